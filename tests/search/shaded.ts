// Small plates over which a shadow or a gleam passes; the truth is a formula.
import { mkdirSync } from 'node:fs'
import { join } from 'node:path'
import { writeCodes } from '../codes.js'
import { grainOf, HEIGHT, texturedWall, WIDTH, wallLight } from '../synthetic.js'

/** Stops of luminance that a passing patch adds at a wall position, per frame index; 0 outside it. */
export type Shade = (x: number, y: number, index: number) => number

/** A round patch with a soft edge, `stops` in its core, its middle at (x, y) on frame `peak`. */
export function patch(options: {
  stops: number
  peak: number
  x: number
  y: number
  vx?: number
  vy?: number
  radius?: number
}): Shade {
  const { stops, peak, x, y, vx = 8, vy = 0, radius = 22 } = options
  return (u, v, index) => {
    const du = u - x - vx * (index - peak)
    const dv = v - y - vy * (index - peak)
    if (Math.abs(du) >= radius || Math.abs(dv) >= radius) return 0
    const d = Math.hypot(du, dv) / radius
    const t = Math.min(1, Math.max(0, (1 - d) / 0.6))
    return stops * t * t * (3 - 2 * t)
  }
}

export interface ShadedPlate {
  readonly folder: string
  readonly frames: readonly number[]
  /** Linear factor of the shade at a wall position on a frame. */
  ratio(x: number, y: number, frame: number): number
}

/** Writes `quay.1001.png` and on: a wall with grain, shades over it, and boxes that walk in front. */
export async function plantShade(
  folder: string,
  options: {
    frames?: number
    shades?: readonly Shade[]
    stops?: (index: number) => number
    sway?: (index: number) => readonly [number, number]
    /** What walks in front, of cloth; or of one even colour, linear RGB. */
    paint?: readonly [number, number, number]
    porter?: (index: number) => { x: number; y: number; w: number; h: number } | null
    wall?: (x: number, y: number) => number
    noise?: number
    tint?: readonly [number, number, number]
    start?: number
  } = {},
): Promise<ShadedPlate> {
  const { frames = 40, shades = [], stops = () => 0, sway = () => [0, 0], porter = () => null } = options
  const { wall = texturedWall(), noise = 0.01, tint = [1, 1, 1], start = 0, paint } = options
  const cloth = texturedWall(99)
  mkdirSync(folder, { recursive: true })
  const numbers = Array.from({ length: frames }, (_, i) => 1001 + i)
  for (const frame of numbers) {
    const index = frame - 1001
    const [dx, dy] = sway(index)
    const grain = noise > 0 ? grainOf(frame * 7919 + start, WIDTH * HEIGHT * 3) : null
    const bare = wallLight(wall, WIDTH, HEIGHT, dx, dy)
    const light = 2 ** stops(index)
    const thing = porter(index)
    const rgb = new Float32Array(WIDTH * HEIGHT * 3)
    for (let y = 0, p = 0, i = 0; y < HEIGHT; y++) {
      for (let x = 0; x < WIDTH; x++, p++) {
        const u = x - dx
        const v = y - dy
        const inThing =
          thing !== null && u >= thing.x && u < thing.x + thing.w && v >= thing.y && v < thing.y + thing.h
        const surface = inThing ? 0.35 * cloth(u - thing.x, v) : bare[p]
        let change = 0
        if (!inThing) for (const shade of shades) change += shade(u, v, index)
        for (let c = 0; c < 3; c++, i++)
          rgb[i] =
            (inThing && paint ? paint[c] : surface) *
            light *
            (change === 0 ? 1 : 2 ** (change * tint[c])) *
            (grain === null ? 1 : 1 + noise * grain[i])
      }
    }
    await writeCodes(join(folder, `quay.${frame}.png`), rgb, WIDTH, HEIGHT)
  }
  const ratio = (x: number, y: number, frame: number) =>
    2 ** shades.reduce((sum, s) => sum + s(x, y, frame - 1001), 0)
  return { folder, frames: numbers, ratio }
}
