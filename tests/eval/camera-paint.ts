// What the made-up cameras are painted with: smooth noise, soft-edged shapes, and walkers put together of them. Linear
// light throughout; pixel (x, y) has its centre at (x, y).
import { randomFrom } from '../random.js'
import type { Picture } from '../resample.js'
import { type Cloth, cloth } from './cloth.js'

export type Colour = readonly [red: number, green: number, blue: number]
export interface Point {
  readonly x: number
  readonly y: number
}

const LATTICE = 64

/**
 * Smooth noise of about -1 to 1: chance on a lattice of 1 x 1, between its points smoothly, and three finer ones on top.
 * K. Perlin, An Image Synthesizer (1985), with values in place of gradients.
 */
export function smoothNoise(key: string, octaves = 4): (x: number, y: number) => number {
  const random = randomFrom(key)
  const lattice = Float32Array.from({ length: LATTICE * LATTICE }, () => 2 * random() - 1)
  const at = (x: number, y: number) => lattice[(y & (LATTICE - 1)) * LATTICE + (x & (LATTICE - 1))]
  return (x, y) => {
    let sum = 0
    for (let o = 0, scale = 1, share = 0.6; o < octaves; o++, scale *= 2, share *= 0.55) {
      const u = x * scale + 17 * o
      const v = y * scale + 31 * o
      const i = Math.floor(u)
      const j = Math.floor(v)
      const s = (u - i) ** 2 * (3 - 2 * (u - i))
      const t = (v - j) ** 2 * (3 - 2 * (v - j))
      const top = at(i, j) + s * (at(i + 1, j) - at(i, j))
      const below = at(i, j + 1) + s * (at(i + 1, j + 1) - at(i, j + 1))
      sum += share * (top + t * (below - top))
    }
    return sum
  }
}

/** A still picture, each pixel's colour by a function that writes RGB into `out`. */
export function paintGround(
  target: Picture,
  colourAt: (x: number, y: number, out: Float64Array) => void,
): void {
  const rgb = new Float64Array(3)
  for (let y = 0, i = 0; y < target.height; y++) {
    for (let x = 0; x < target.width; x++, i += 3) {
      colourAt(x, y, rgb)
      target.data.set(rgb, i)
    }
  }
}

/** Distance of a point from a line's nearest point, less the radius: below 0 inside. */
export function stroke(x: number, y: number, a: Point, b: Point, radius: number): number {
  const dx = b.x - a.x
  const dy = b.y - a.y
  const length = dx * dx + dy * dy
  const t = length === 0 ? 0 : Math.max(0, Math.min(1, ((x - a.x) * dx + (y - a.y) * dy) / length))
  return Math.hypot(x - a.x - t * dx, y - a.y - t * dy) - radius
}

/**
 * Lays cloth where `distance` is below 0, over one pixel's width at its edge. Only pixels of the box about `centre` are
 * visited.
 *
 * @param origin where the weave is fixed: it moves with whoever wears it
 */
export function lay(
  target: Picture,
  centre: Point,
  reach: number,
  distance: (x: number, y: number) => number,
  stuff: Cloth,
  origin: Point,
): void {
  const rgb = new Float64Array(3)
  each(target, centre, reach, (x, y, i) => {
    const cover = Math.max(0, Math.min(1, 0.5 - distance(x, y)))
    if (cover === 0) return
    stuff.at(x - origin.x, y - origin.y, rgb)
    for (let c = 0; c < 3; c++) target.data[i + c] += cover * (rgb[c] - target.data[i + c])
  })
}

/** Takes light away where `distance` is below 0, and less and less over `soft` pixels outside. */
export function shade(
  target: Picture,
  centre: Point,
  reach: number,
  distance: (x: number, y: number) => number,
  soft: number,
  depth: number,
): void {
  each(target, centre, reach + soft, (x, y, i) => {
    const d = distance(x, y)
    if (d >= soft) return
    const t = d <= 0 ? 1 : 1 - d / soft
    const gain = 1 - depth * t * t * (3 - 2 * t)
    for (let c = 0; c < 3; c++) target.data[i + c] *= gain
  })
}

function each(
  target: Picture,
  centre: Point,
  reach: number,
  visit: (x: number, y: number, i: number) => void,
): void {
  const top = Math.max(0, Math.floor(centre.y - reach))
  const bottom = Math.min(target.height - 1, Math.ceil(centre.y + reach))
  const left = Math.max(0, Math.floor(centre.x - reach))
  const right = Math.min(target.width - 1, Math.ceil(centre.x + reach))
  for (let y = top; y <= bottom; y++) {
    for (let x = left; x <= right; x++) visit(x, y, 3 * (y * target.width + x))
  }
}

export interface Walker {
  readonly key: string
  /** Index of the first frame, and how many frames the way takes, the stop not counted. */
  readonly start: number
  readonly frames: number
  /** Where the feet are first and last. */
  readonly from: Point
  readonly to: Point
  /** From the feet to the top of the head. */
  readonly height: number
  /** Linear RGB of coat and legs instead of some by chance. */
  readonly dress?: Colour
  /** Share of the way after which the walker stands still, and for how many frames. */
  readonly stop?: { readonly at: number; readonly frames: number }
}

const SKIN: readonly Colour[] = [
  [0.45, 0.27, 0.19],
  [0.3, 0.17, 0.1],
  [0.1, 0.055, 0.035],
]

/** Somebody on the way: shadow, legs, arms, coat, head, in that order. Nothing before and after. */
export function paintWalker(target: Picture, walker: Walker, index: number): void {
  const feet = feetOf(walker, index)
  if (feet === null) return
  const { key, height: h, from, to } = walker
  const random = randomFrom(`walker ${key}`)
  const coat = cloth(`coat ${key}`, walker.dress)
  const legs = cloth(`legs ${key}`, walker.dress)
  const skin = cloth(`skin ${key}`, SKIN[Math.floor(3 * random())])
  const broad = 0.9 + 0.3 * random()
  const sway = feet.walking ? Math.sin((0.5 + 0.2 * random()) * index + 6 * random()) : 0.15
  const lean = Math.sign(to.x - from.x) * 0.02
  const at = (x: number, y: number): Point => ({ x: feet.x + h * x, y: feet.y + h * y })
  const middle = at(0, -0.5)
  const limb = (a: Point, b: Point, radius: number, stuff: Cloth) =>
    lay(target, middle, 0.7 * h, (x, y) => stroke(x, y, a, b, radius * h), stuff, middle)
  const shadow = at(0.12, 0.01)
  const flat = (x: number, y: number) => Math.hypot(x - shadow.x, 3 * (y - shadow.y)) - 0.14 * h
  shade(target, shadow, 0.3 * h, flat, 0.1 * h, 0.45)
  limb(at(-0.03, -0.48), at(-0.17 * sway, -0.03), 0.05, legs)
  limb(at(0.03, -0.48), at(0.17 * sway, -0.03), 0.05, legs)
  limb(at(lean, -0.8), at(-0.12 * sway + lean, -0.47), 0.035 * broad, coat)
  limb(at(lean, -0.74), at(0, -0.47), 0.105 * broad, coat)
  limb(at(lean, -0.8), at(0.12 * sway + lean, -0.47), 0.035 * broad, coat)
  limb(at(1.5 * lean, -0.93), at(1.5 * lean, -0.91), 0.062, skin)
}

function feetOf({ start, frames, from, to, height, stop }: Walker, index: number) {
  let done = index - start
  let walking = true
  if (stop !== undefined && done > stop.at * frames) {
    walking = done > stop.at * frames + stop.frames
    done = Math.max(stop.at * frames, done - stop.frames)
  }
  if (done < 0 || done >= frames) return null
  const t = done / (frames - 1)
  const bob = walking ? 0.008 * height * Math.sin(1.1 * index) : 0
  return { x: from.x + t * (to.x - from.x), y: from.y + t * (to.y - from.y) + bob, walking }
}
