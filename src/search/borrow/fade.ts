// How a lift comes in and goes out: a moment has a start and an end, and a ratio that stopped there short of 1 would be
// seen to jump.
import { FADE_FRAMES } from '../../defaults.js'
import { misuse, option } from '../../errors.js'
import type { FrameMatch, Moment } from '../result.js'

/** Frames over which a lift comes in, and over which it goes out. */
export interface Fade {
  readonly in: number
  readonly out: number
}

/** Of a candidate, what tells. */
interface Lift {
  readonly frames: readonly Pick<FrameMatch, 'target' | 'donor'>[]
  readonly moment?: Pick<Moment, 'start' | 'peak' | 'end'>
}

/**
 * How much of its stops a lift has on each target frame, 0 to 1. It is 0 where the donor lies before the moment or after
 * it. Where it lies within, the first frames have t^2 (3 - 2 t) with t = k / (in + 1) on the k-th of them, counted from 1,
 * and the last ones likewise from the end; where both reach, their product.
 *
 * @param fade absent: FADE_FRAMES at either end, as far as they do not reach the peak
 * @returns by target frame; all of it on every frame of a candidate without a moment
 * @throws MISUSE where a fade is negative, no whole number or longer than the range
 */
export function fadesOf({ frames, moment }: Lift, fade?: Fade): ReadonlyMap<number, number> {
  if (moment === undefined) return new Map(frames.map((f) => [f.target, 1]))
  const { start, peak, end } = moment
  const within = frames.filter((f) => f.donor >= start && f.donor <= end).map((f) => f.donor)
  const [first, last] = [Math.min(...within), Math.max(...within)]
  const free = (frames: number) => Math.max(0, Math.min(FADE_FRAMES, frames, last - first))
  const asked = fade ?? { in: free(peak - first), out: free(last - peak) }
  const targets = frames.map((f) => f.target)
  const most = Math.max(...targets) - Math.min(...targets) + 1
  for (const n of [asked.in, asked.out]) {
    if (!(Number.isInteger(n) && n >= 0 && n <= most)) {
      const range = `in,out in whole frames, each 0 to the range's ${most}`
      throw misuse(option('fade'), range, `${asked.in},${asked.out}`)
    }
  }
  return new Map(
    frames.map(({ target, donor }) => {
      if (donor < start || donor > end) return [target, 0]
      const comes = ramp((donor - first + 1) / (asked.in + 1))
      const goes = ramp((last - donor + 1) / (asked.out + 1))
      return [target, comes * goes]
    }),
  )
}

function ramp(t: number): number {
  return t >= 1 ? 1 : t * t * (3 - 2 * t)
}
