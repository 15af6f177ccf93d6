// A vehicle that drives over a street: a rigid body, smooth as bodywork is, with its own soft shadow round it. What it covers
// on every frame is a formula.
import { mkdirSync } from 'node:fs'
import { join } from 'node:path'
import { writeCodes } from './codes.js'
import { grainOf, HEIGHT, texturedWall, WIDTH, wallLight } from './synthetic.js'

export interface Vehicle {
  /** Its bodywork against the street, stops at its middle, and per channel a factor on its light. */
  readonly stops: number
  readonly tint?: readonly [number, number, number]
  /** Its shading from bonnet to boot, stops. */
  readonly shading: number
  /** Its left upper corner on a frame; null where it is not there. */
  readonly at: (index: number) => { readonly x: number; readonly y: number } | null
  readonly w: number
  readonly h: number
  /** Pixels over which its edge is smeared along its way. */
  readonly blur: number
  /** Its shadow where it touches the street, stops, and how far that reaches, pixels. */
  readonly shadow: number
  readonly reach: number
}

export interface StreetPlate {
  readonly folder: string
  /** Share of the vehicle at a place of a frame, 0 to 1. */
  covered(x: number, y: number, frame: number): number
  /** Factor of its shadow there, where it does not stand. */
  ratio(x: number, y: number, frame: number): number
}

const STREET = 0.3

/**
 * Writes `street.1001.png` and on.
 *
 * @param texture of the street, as a share of the wall's of `texturedWall`; 0.05 is about 0.04 stops
 * @param noise   grain, a share of the light
 */
export async function plantVehicle(
  folder: string,
  {
    vehicle,
    frames = 44,
    texture = 0.1,
    noise = 0.01,
  }: { vehicle: Vehicle; frames?: number; texture?: number; noise?: number },
): Promise<StreetPlate> {
  const waves = texturedWall(8)
  const bare = wallLight((x, y) => STREET * (1 + texture * (waves(x, y) - 0.4)), WIDTH, HEIGHT, 0, 0)
  const { w, h, blur, shading, tint = [1, 1, 1] } = vehicle
  const edge = (t: number, length: number, soft: number) =>
    Math.min(1, Math.max(0, t / soft + 0.5)) * Math.min(1, Math.max(0, (length - t) / soft + 0.5))
  const covered = (x: number, y: number, frame: number) => {
    const at = vehicle.at(frame - 1001)
    return at === null ? 0 : edge(x - at.x, w, Math.max(1, blur)) * edge(y - at.y, h, 1)
  }
  const ratio = (x: number, y: number, frame: number) => {
    const at = vehicle.at(frame - 1001)
    if (at === null) return 1
    const d = Math.hypot(Math.max(at.x - x, x - at.x - w, 0), Math.max(at.y - y, y - at.y - h, 0))
    return 2 ** (vehicle.shadow * Math.exp(-d / vehicle.reach))
  }
  mkdirSync(folder, { recursive: true })
  for (let frame = 1001; frame < 1001 + frames; frame++) {
    const grain = grainOf(frame * 7919, WIDTH * HEIGHT * 3)
    const at = vehicle.at(frame - 1001)
    const rgb = new Float32Array(WIDTH * HEIGHT * 3)
    for (let y = 0, p = 0, i = 0; y < HEIGHT; y++) {
      for (let x = 0; x < WIDTH; x++, p++) {
        const share = covered(x, y, frame)
        const street = bare[p] * ratio(x, y, frame)
        const along = at === null ? 0 : (x - at.x) / w - 0.5
        const body = STREET * 2 ** (vehicle.stops + shading * Math.sin(2.5 * along))
        for (let c = 0; c < 3; c++, i++)
          rgb[i] = (share * body * tint[c] + (1 - share) * street) * (1 + noise * grain[i])
      }
    }
    await writeCodes(join(folder, `street.${frame}.png`), rgb, WIDTH, HEIGHT)
  }
  return { folder, covered, ratio }
}
