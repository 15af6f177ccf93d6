// Is a donor's region empty? Compared pixel by pixel with the clean plate, above grain.
import { type Compared, markOutliers } from '../kernels/compare.js'
import type { Workspace } from '../kernels/workspace.js'
import { hasByte } from '../raster/has-byte.js'
import type { Rect } from '../raster/rect.js'
import type { CleanPlate } from './clean-plate.js'
import { select } from './selection.js'
import { VISIBLE_CODE, VISIBLE_STOPS } from './thresholds.js'
import { displaySlope } from './visible-error.js'

/** A pixel differs when its 3 x 3 mean lies further than this many spreads from the clean plate, and visibly so. */
const DIRTY_SIGMA = 4
/** A pixel's spread is believed up to this multiple of the surround's median spread; beyond, passers-by made it. */
const MAX_SPREAD = 3

/**
 * The spread that grain can explain, per pixel, stops: the measured one, bounded by what the surround shows. Codecs leave a
 * picture as it is for many frames, and then another one of the same scenery: frames of one time agree far closer with each
 * other than with those of another, so what counts is how half of all frames lie, where that is more.
 *
 * @param least what the surround is taken to show at least, see `minSpread`
 */
export function explainedSpread(
  empty: CleanPlate,
  surround: Readonly<Float32Array>,
  least: number,
): Float32Array {
  const valid = new Float32Array(surround.length)
  let n = 0
  for (let i = 0; i < surround.length; i++)
    if (surround[i] > 0 && empty.support[i] > 0) valid[n++] = empty.spread[i]
  const typical = Math.max(n > 0 ? select(valid, n >> 1, n) : 0, least)
  return empty.spread.map((s, i) =>
    Math.min(Math.max(s, empty.scatter[i], typical / MAX_SPREAD), MAX_SPREAD * typical),
  )
}

/**
 * The same where nothing counts that no eye sees: a stop in the shadows is next to nothing, and codecs leave little of it.
 *
 * @param level  the clean plate, log2 luminance; it must not change afterwards
 * @param spread its `explainedSpread`
 */
export function visibleSpread(level: Readonly<Float32Array>, spread: Readonly<Float32Array>): Float32Array {
  const steps = leastAtSteps()
  let least = leastOf.get(level)
  if (least === undefined) {
    least = new Float32Array(level.length)
    leastOf.set(level, least)
  }
  const out = spread.slice()
  raise(out, level, steps, least)
  return out
}

/** Spreads that no eye sees become the least that one does. A function of its own: a short loop is compiled soon, and only once. */
function raise(
  spread: Float32Array,
  level: Readonly<Float32Array>,
  steps: Readonly<Float64Array>,
  least: Float32Array,
): void {
  for (let i = 0; i < spread.length; i++) {
    if (spread[i] >= steps[stepOf(level[i])]) continue
    if (least[i] === 0) least[i] = leastVisible(level[i])
    spread[i] = Math.max(spread[i], least[i])
  }
}

/**
 * What is visible at each pixel of a clean plate, 0 where that was not asked for yet: five steps of a search hold frames
 * against the same one, and a power takes longer than all else. It goes with the clean plate.
 */
const leastOf = new WeakMap<Readonly<Float32Array>, Float32Array>()

/** Stops. The darker it is the more an eye takes. */
function leastVisible(level: number): number {
  return VISIBLE_CODE / (DIRTY_SIGMA * displaySlope(level))
}

/** Per stop below white; some stops. */
const STEPS_PER_STOP = 8
const STEPS = 16 * STEPS_PER_STOP

/** The step that ends below a level, or at it. */
function stepOf(level: number): number {
  return level >= 0 ? 0 : Math.min(STEPS + 1, 1 + Math.floor(-level * STEPS_PER_STOP))
}

let known: Float64Array | undefined

/** What is visible at the dark end of each step, beyond which most spreads lie: the powers are left to the others. */
function leastAtSteps(): Float64Array {
  known ??= Float64Array.from({ length: STEPS + 2 }, (_, step) =>
    step <= STEPS ? leastVisible(-step / STEPS_PER_STOP) : Number.POSITIVE_INFINITY,
  )
  return known
}

/**
 * Marks what differs from the clean plate.
 *
 * @param compared a frame over the window, on the common grid, with the clean plate and its `visibleSpread`
 * @param dirty    receives 1 where the pixel differs or is a hole, else 0
 * @param part     the window's pixels that are looked at, in window coordinates; absent: all
 */
export function markDirty(
  workspace: Workspace,
  compared: Compared,
  width: number,
  dirty: Uint8Array,
  part: Rect = { x: 0, y: 0, w: width, h: compared.aligned.length / width },
): void {
  markOutliers(workspace, compared, DIRTY_SIGMA, VISIBLE_STOPS, width, part, dirty)
}

/** Pixels that weigh something, by their index, and what each of them and all together weigh. */
export interface Weighed {
  readonly list: Readonly<Int32Array>
  readonly weight: Readonly<Float32Array>
  readonly all: number
}

/** The pixels of a region's weights that are above 0. */
export function weighed(inside: Readonly<Float32Array>): Weighed {
  const list = new Int32Array(inside.length)
  const weight = new Float32Array(inside.length)
  let n = 0
  let all = 0
  for (let i = 0; i < inside.length; i++) {
    if (!(inside[i] > 0)) continue
    list[n] = i
    weight[n++] = inside[i]
    all += inside[i]
  }
  return { list: list.slice(0, n), weight: weight.slice(0, n), all }
}

/** Share of the region's weight that is not dirty, 0 to 1; null where the region is empty. */
export function cleanShare(dirty: Readonly<Uint8Array>, { list, weight, all }: Weighed): number | null {
  if (!(all > 0)) return null
  // Of most frames nothing is dirty.
  if (!hasByte(dirty, 1)) return 1
  return (all - lostOf(dirty, list, weight)) / all
}

/** A function of its own: while its loop is compiled nothing is known yet of what comes after it, and that would be compiled in vain. */
function lostOf(
  dirty: Readonly<Uint8Array>,
  list: Readonly<Int32Array>,
  weight: Readonly<Float32Array>,
): number {
  let lost = 0
  for (let k = 0; k < list.length; k++) if (dirty[list[k]] !== 0) lost += weight[k]
  return lost
}
