// What the planted camera and light do in each frame.
import type { Transform } from '../../src/raster/transform.js'
import { normal, randomFrom } from '../random.js'

/**
 * `found` is `plain` in windows whose state is one of the footage's own, other than its usual one;
 * `state` is `plain` with something that stands in the region for a while, the window included; `never` is `plain` with a
 * third of the region covered in every other frame, another third from time to time; `hopeless` is `flicker` with
 * somebody painted into the region of every other frame too; `shade` is `flicker` with light that also differs from one side
 * to the other, as beside the edge of a cloud. The last four are of cameras that move, and of another take:
 * see moving.ts.
 */
export const VARIANTS = [
  'plain',
  'flicker',
  'sway',
  'found',
  'state',
  'never',
  'hopeless',
  'shade',
  'pan',
  'tripod',
  'handheld',
  'reframe',
] as const
export type Variant = (typeof VARIANTS)[number]

export interface Motion {
  /** Exposure, stops, relative to the footage. */
  readonly stops: number
  /** How far the picture is moved, pixels: planted(x, y) is footage(x - dx, y - dy). */
  readonly dx: number
  readonly dy: number
  /** Stops by which the light grows over the longer side of the region, to the right and down; absent: it is even. */
  readonly lean?: readonly [across: number, down: number]
  /** Of a camera that moves, instead of dx, dy: takes a pixel of the footage to its place in the planted frame. */
  readonly pose?: Transform
  /** The same of what is near to a camera that is carried about. */
  readonly near?: Transform
}

const STILL: Motion = { stops: 0, dx: 0, dy: 0 }
/** A fifth of a stop, slow, with a little noise from frame to frame. */
const FLICKER_STOPS = 0.2
const FLICKER_NOISE_STOPS = 0.01
/** How much light leans, stops over the longer side of the region, and how long it takes to come round, frames. */
const LEAN_STOPS = 0.12
const LEAN_FRAMES = 140
/** Slow waves of a few pixels, amplitude and period in frames, and a quarter of a pixel of jitter. */
const SWAYS = [
  { px: 3, frames: 97 },
  { px: 1.3, frames: 37 },
]
const JITTER_PX = 0.25
/** No sway is larger than this: how much of the footage must lie round what is planted. */
export const MAX_SWAY_PX = 8

/** The motion of every frame of a case, in the order of `frames`. */
export function motionOf(variant: Variant, frames: readonly number[], key: string): Motion[] {
  const flickers = variant === 'flicker' || variant === 'shade'
  if (!flickers && variant !== 'sway' && variant !== 'hopeless') return frames.map(() => STILL)
  const random = randomFrom(`motion ${key}`)
  const phase = Array.from({ length: 2 + 2 * SWAYS.length }, () => 2 * Math.PI * random())
  const period = 90 + 60 * random()
  return frames.map((f) => {
    const turn = 2 * Math.PI * f
    const slow = 0.75 * Math.sin(turn / period + phase[0]) + 0.25 * Math.sin((turn * 3.1) / period + phase[1])
    const stops = FLICKER_STOPS * slow + FLICKER_NOISE_STOPS * normal(random)
    let dx = JITTER_PX * normal(random)
    let dy = JITTER_PX * normal(random)
    if (variant === 'shade') {
      const lean = [
        LEAN_STOPS * Math.sin(turn / LEAN_FRAMES + phase[2]),
        LEAN_STOPS * Math.sin((turn * 1.3) / LEAN_FRAMES + phase[3]),
      ] as const
      return { stops, dx: 0, dy: 0, lean }
    }
    if (variant !== 'sway') return { stops, dx: 0, dy: 0 }
    for (const [i, { px, frames: p }] of SWAYS.entries()) {
      dx += px * Math.sin(turn / p + phase[2 + 2 * i])
      dy += 0.6 * px * Math.sin((turn * 1.17) / p + phase[3 + 2 * i])
    }
    return { stops, dx: within(dx), dy: within(dy) }
  })
}

function within(px: number): number {
  return Math.max(-MAX_SWAY_PX, Math.min(MAX_SWAY_PX, px))
}
