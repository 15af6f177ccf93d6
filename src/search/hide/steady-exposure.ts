// A candidate's light per channel over its frames. A lamp or a cloud changes the light of all channels much alike; people who
// crowd the surround change the colour of a frame at a stroke. So the channels follow the luminance, and what sets them
// apart from it is steady.

import { middleValue } from '../../match/selection.js'

/** Stops per channel that bring a donor to a target. */
export type Light = readonly [number, number, number]

/** What was measured of one pair. */
export interface MeasuredLight {
  /** The donor's plate: another camera has another colour; and its frame: so has the same one at another time. */
  readonly plate: number
  readonly donor: number
  /** Of the luminance, from all of the surround where nobody passes; null where too little is seen. */
  readonly stops: number | null
  readonly light: Light | null
}

/** Frames to either side, of the target and of the donor, over which a channel's own offset is steady: half a second at common rates. */
export const STEADY_FRAMES = 12
/** Stops by which a channel may leave its steady offset, and the share of what the luminance does beside it. */
const MAX_APART = 0.02
const APART_SHARE = 0.25

/**
 * @param frames in order of the target frames
 * @returns stops per channel of each; where nothing was measured on any frame: no change
 */
export function steadyExposure(frames: readonly MeasuredLight[]): Light[] {
  const stops = filled(frames.map(({ stops, light }) => stops ?? (light ? middleValue(light) : null)))
  const apart = frames.map(({ light }, i) => light?.map((v) => v - stops[i]) ?? null)
  return frames.map((frame, i) => {
    const near = frames.flatMap((other, k) =>
      Math.abs(k - i) <= STEADY_FRAMES && isBeside(frame, other) && apart[k] ? [k] : [],
    )
    const usual = median(near.map((k) => stops[k])) ?? stops[i]
    const room = MAX_APART + APART_SHARE * Math.abs(stops[i] - usual)
    const channel = (c: number): number => {
      const steady = median(near.map((k) => apart[k]![c])) ?? 0
      const own = apart[i]?.[c] ?? steady
      return stops[i] + Math.min(steady + room, Math.max(steady - room, own))
    }
    return [channel(0), channel(1), channel(2)]
  })
}

/** Do two donors have one colour? */
function isBeside(a: MeasuredLight, b: MeasuredLight): boolean {
  return a.plate === b.plate && Math.abs(a.donor - b.donor) <= STEADY_FRAMES
}

/** Absent values from the present ones beside them, in proportion; before the first and after the last as these. */
function filled(values: readonly (number | null)[]): number[] {
  const known = values.flatMap((v, i) => (v === null ? [] : [{ i, v }]))
  return values.map((v, i) => {
    if (v !== null) return v
    const after = known.find((k) => k.i > i)
    const before = known.findLast((k) => k.i < i)
    if (!before || !after) return (before ?? after)?.v ?? 0
    return before.v + ((after.v - before.v) * (i - before.i)) / (after.i - before.i)
  })
}

function median(values: readonly number[]): number | null {
  return values.length === 0 ? null : middleValue(values)
}
