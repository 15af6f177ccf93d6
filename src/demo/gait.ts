// How legs go: a foot on the ground stays where it is, and a joint follows from where its two ends are.
import { lerp } from './shapes.js'

/** Metres forward of the hip's place on the ground, and up. */
export type Point = readonly [number, number]

/** Share of a stride for which a foot stands. */
export const STANCE = 0.58
/** Height of the ankle over a foot that stands, metres. */
export const ANKLE = 0.085

export interface Foot {
  /** The ankle, metres before the hip and above the ground. */
  readonly x: number
  readonly y: number
  /** The sole's angle, radians, positive: heel up. */
  readonly pitch: number
}

/** On the ground the foot goes back exactly as fast as the walker goes forward: it does not slide. */
export function footAt(phase: number, stride: number): Foot {
  const p = phase - Math.floor(phase)
  const reach = (STANCE * stride) / 2
  if (p < STANCE) {
    const t = p / STANCE
    const heel = Math.max(0, (t - 0.66) / 0.34)
    const land = Math.max(0, 1 - t / 0.14)
    return { x: reach * (1 - 2 * t), y: ANKLE + 0.09 * heel * heel, pitch: 0.75 * heel * heel - 0.3 * land }
  }
  const t = (p - STANCE) / (1 - STANCE)
  const ease = t * t * (3 - 2 * t)
  const lift = Math.sin(Math.PI * t ** 0.8)
  return {
    x: lerp(-reach, reach, 0.5 * t + 0.5 * ease),
    y: ANKLE + 0.09 * (1 - ease) + 0.075 * lift,
    pitch: lerp(0.75, -0.3, Math.min(1, t * 1.25)),
  }
}

/** The joint between two bones from a to b; `bend` 1 puts it forward of the line, -1 behind. */
export function joint(a: Point, b: Point, first: number, second: number, bend: number): Point {
  const dx = b[0] - a[0]
  const dy = b[1] - a[1]
  const d = Math.min(first + second - 0.001, Math.max(0.05, Math.hypot(dx, dy)))
  const along = (first * first - second * second + d * d) / (2 * d)
  const off = Math.sqrt(Math.max(0, first * first - along * along)) * bend
  const ux = dx / Math.hypot(dx, dy)
  const uy = dy / Math.hypot(dx, dy)
  return [a[0] + ux * along - uy * off, a[1] + uy * along + ux * off]
}
