// What a pixel shows where most frames clip it. A clipped sample is no more than the least that the surface may be: where the light
// or the iris changes, the frames that were exposed less show what it is.
import { agreeingGroup, GROUP_WIDTH_SIGMA, mean } from './agreeing-group.js'
import { CLIPPED, INVALID, VALID } from './log-luminance.js'

/** Fewer frames that do not clip it tell nothing. */
const MIN_FRAMES = 8

/** Samples of pixels next to each other, frame after frame. */
export interface Columns {
  /** log2 luminance, without the frame's exposure. */
  readonly rows: Readonly<Float32Array>
  /** INVALID, VALID or CLIPPED. */
  readonly validities: Readonly<Uint8Array>
  /** Per frame, added to its samples to match the common light, stops: the more, the less it was exposed. */
  readonly exposures: Readonly<Float32Array>
  /** From a frame's sample of a pixel to the next frame's. */
  readonly across: number
}

/** A clean plate's pixels, as `CleanPlate` has them. */
export interface Agreed {
  readonly level: Float32Array
  readonly spread: Float32Array
  readonly support: Float32Array
}

/**
 * Where most of the frames that agree on a level clip it, what those agree on that do not clip takes its place. They must be brighter,
 * and most of all frames that were exposed no more than they were: else it is somebody in white who passes.
 *
 * @param found what all frames agree on, one per pixel; changed
 * @param least standard deviation below which frames are not told apart, stops
 */
export function liftClipped(columns: Columns, found: Agreed, least: number): void {
  const { rows, validities, exposures, across } = columns
  if (!validities.includes(CLIPPED)) return
  const isClipped = new Uint8Array(across)
  markClipped(validities, across, isClipped)
  const brighter = new Float32Array(exposures.length)
  for (let c = 0; c < found.level.length; c++) {
    if (isClipped[c] === 0) continue
    const far = GROUP_WIDTH_SIGMA * Math.max(least, found.spread[c])
    let agree = 0
    let clipped = 0
    let n = 0
    for (let k = 0, at = c; k < exposures.length; k++, at += across) {
      if (validities[at] === INVALID) continue
      const value = rows[at] + exposures[k]
      if (Math.abs(value - found.level[c]) <= far) {
        agree++
        if (validities[at] === CLIPPED) clipped++
      } else if (validities[at] === VALID && value > found.level[c]) brighter[n++] = value
    }
    if (2 * clipped > agree && n >= MIN_FRAMES) lift(columns, found, c, brighter.subarray(0, n).sort(), least)
  }
}

/** Marks with 1 the pixels that any frame clips. */
function markClipped(validities: Readonly<Uint8Array>, across: number, marks: Uint8Array): void {
  for (let from = 0; from < validities.length; from += across)
    for (let c = 0; c < across; c++) if (validities[from + c] === CLIPPED) marks[c] = 1
}

/** @param brighter the samples of pixel `c` that do not clip and lie above its level, ascending */
function lift(columns: Columns, found: Agreed, c: number, brighter: Float32Array, least: number): void {
  const bounds = new Int32Array(2)
  agreeingGroup(brighter, bounds, least)
  const members = brighter.subarray(bounds[0], bounds[1])
  if (2 * brighter.length <= exposedNoMore(columns, c, members)) return
  const middle = mean(members, 0, members.length)
  const squares = members.reduce((sum, value) => sum + (value - middle) ** 2, 0)
  found.level[c] = middle
  found.spread[c] = Math.sqrt(squares / members.length)
  found.support[c] = members.length / columns.exposures.length
}

/** How many frames show pixel `c`, empty or not, that were exposed no more than the most exposed of a group's. */
function exposedNoMore(columns: Columns, c: number, members: Readonly<Float32Array>): number {
  const { rows, validities, exposures, across } = columns
  const [from, to] = [members[0], members[members.length - 1]]
  let most = Number.POSITIVE_INFINITY
  for (let k = 0, at = c; k < exposures.length; k++, at += across) {
    const value = Math.fround(rows[at] + exposures[k])
    if (validities[at] === VALID && value >= from && value <= to) most = Math.min(most, exposures[k])
  }
  let frames = 0
  for (let k = 0, at = c; k < exposures.length; k++, at += across)
    if (validities[at] !== INVALID && exposures[k] >= most) frames++
  return frames
}
