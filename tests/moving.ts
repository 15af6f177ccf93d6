// Plates of a wall from cameras that move, by matrices that are known to the last digit: the wall is a formula, evaluated
// where each pixel looks, so no filter has touched the truth.
import { mkdirSync } from 'node:fs'
import { join } from 'node:path'
import { apply, compose, invert, type Transform } from '../src/raster/transform.js'
import { writeCodes } from './codes.js'
import { roughWall } from './rough-wall.js'
import { FIRST, grainOf } from './synthetic.js'

export interface MovingOptions {
  readonly width?: number
  readonly height?: number
  readonly frames?: number
  readonly first?: number
  /** Takes the wall's places to a frame's pixels, by index from the first frame. */
  readonly toFrame: (index: number) => Transform
  readonly stops?: number
  /** Linear-light factors, as of another lamp. */
  readonly tint?: readonly [number, number, number]
  /** A plain dark box of the wall, in the wall's places: somebody who stands there on some frames. */
  readonly occluder?: {
    readonly x: number
    readonly y: number
    readonly w: number
    readonly h: number
    on(index: number): boolean
  }
  /** Stops that a shadow adds at one of the wall's places, by index. */
  readonly shade?: (x: number, y: number, index: number) => number
  /** The wall begins elsewhere: another place. */
  readonly elsewhere?: number
  readonly start?: number
}

export interface Moving {
  readonly folder: string
  readonly frames: readonly number[]
  /** Takes the wall's places to a frame's pixels. */
  toFrame(frame: number): Transform
}

export async function plantMoving(folder: string, options: MovingOptions): Promise<Moving> {
  const {
    width = 240,
    height = 180,
    frames = 30,
    first = FIRST,
    toFrame,
    stops = 0,
    tint = [1, 1, 1],
    occluder,
    shade = () => 0,
    elsewhere = 0,
  } = options
  mkdirSync(folder, { recursive: true })
  const numbers = Array.from({ length: frames }, (_, i) => first + i)
  // A take whose camera stands shows the same wall on all frames.
  const wall = new Float64Array(width * height)
  let shown = ''
  for (const [index, frame] of numbers.entries()) {
    const rgb = new Float32Array(3 * width * height)
    const back = invert(toFrame(index))
    if (shown !== String(back)) {
      shown = String(back)
      for (let y = 0, i = 0; y < height; y++)
        for (let x = 0; x < width; x++, i++) {
          const p = apply(back, x, y)
          wall[i] = roughWall(p.x + elsewhere, p.y)
        }
    }
    const grain = grainOf(31 * frame + (options.start ?? 0), rgb.length)
    const hidden = occluder?.on(index) ? occluder : undefined
    for (let y = 0, i = 0, k = 0; y < height; y++)
      for (let x = 0; x < width; x++, k++) {
        const p = apply(back, x, y)
        const stands =
          hidden &&
          p.x >= hidden.x &&
          p.x < hidden.x + hidden.w &&
          p.y >= hidden.y &&
          p.y < hidden.y + hidden.h
        const light = stands ? 0.02 : 2 ** (wall[k] + shade(p.x, p.y, index))
        for (let c = 0; c < 3; c++, i++) rgb[i] = light * 2 ** stops * tint[c] * (1 + 0.01 * grain[i])
      }
    await writeCodes(join(folder, `quay.${frame}.png`), rgb, width, height)
  }
  return { folder, frames: numbers, toFrame: (frame) => toFrame(frame - first) }
}

/** A camera that turns about its lens: H = K R inverse(K). R. Hartley, A. Zisserman, section 8.4. Angles in radians. */
export function turned(
  { pan = 0, tilt = 0, roll = 0, zoom = 1 }: { pan?: number; tilt?: number; roll?: number; zoom?: number },
  width = 240,
  height = 180,
  f = 300,
): Transform {
  const [cp, sp, ct, st, cr, sr] = [pan, tilt, roll].flatMap((a) => [Math.cos(a), Math.sin(a)])
  const aboutY: Transform = [cp, 0, sp, 0, 1, 0, -sp, 0, cp]
  const aboutX: Transform = [1, 0, 0, 0, ct, -st, 0, st, ct]
  const aboutZ: Transform = [cr, -sr, 0, sr, cr, 0, 0, 0, 1]
  const k: Transform = [f, 0, width / 2, 0, f, height / 2, 0, 0, 1]
  const zoomed: Transform = [f * zoom, 0, width / 2, 0, f * zoom, height / 2, 0, 0, 1]
  return compose(zoomed, compose(aboutZ, compose(aboutX, compose(aboutY, invert(k)))))
}

/** RMS of the distance between two places of a donor's pixels on the target, over a rectangle of the target. */
export function placeError(
  found: Transform,
  truth: Transform,
  { x, y, w, h }: { x: number; y: number; w: number; h: number },
): number {
  const back = invert(truth)
  let sum = 0
  let n = 0
  for (let v = y; v <= y + h; v += h / 4)
    for (let u = x; u <= x + w; u += w / 4) {
      const from = apply(back, u, v)
      const to = apply(found, from.x, from.y)
      sum += (to.x - u) ** 2 + (to.y - v) ** 2
      n++
    }
  return Math.sqrt(sum / n)
}
