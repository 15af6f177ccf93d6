// The clean plate: per pixel, the value that the largest agreeing group of aligned, light-matched frames shows.

import { agreeingGroups, sortColumns } from '../kernels/sort.js'
import type { Scratch, Workspace } from '../kernels/workspace.js'
import { atOnce, type Steps } from '../turns.js'
import { GROUP_LENGTH_SIGMA, GROUP_SHARE, GROUP_WIDTH_SIGMA } from './agreeing-group.js'
import { MAD_TO_SIGMA } from './selection.js'
import { type Columns, liftClipped } from './unclipped.js'

/**
 * Pixels that are sorted in one go: their samples stay near the processor, and no power of two, or all samples of a pixel would
 * be kept at the same few places there.
 */
const COLUMNS = 480
/** Fewer samples than this show no agreement. */
const MIN_SAMPLES = 3

export interface CleanPlate {
  /** log2 luminance over the window. */
  readonly level: Float32Array
  /** How far agreeing frames differ from it, stops (standard deviation), over the window. */
  readonly spread: Float32Array
  /**
   * How far the half of all frames that is nearest to it differs from it, agreeing or not, as the standard deviation of a normal
   * distribution of which half lies so near; stops. More than `spread` where frames of another time agree on something else.
   * 0 where no codec carries pictures over: what is another time's is somebody's then.
   */
  readonly scatter: Float32Array
  /** Share of the frames that agree, 0 to 1; 0 where too few frames show the pixel. */
  readonly support: Float32Array
}

export interface AlignedSample {
  /** log2 luminance over the window, moved onto the reference. */
  readonly aligned: Readonly<Float32Array>
  /** INVALID, VALID or CLIPPED. */
  readonly validity: Readonly<Uint8Array>
  /** Added to `aligned` to match the common light, stops. */
  readonly exposure: number
}

/**
 * @param samples aligned frames, all over the same window of `length` pixels
 * @param least   standard deviation below which frames are not told apart, stops: see `minSpread`
 * @param carried a codec carries pictures over from frame to frame: their `scatter` counts
 */
export function cleanPlateOf(
  workspace: Workspace,
  samples: readonly AlignedSample[],
  length: number,
  least = 0,
  carried = false,
): CleanPlate {
  return atOnce(cleanPlateSteps(workspace, samples, length, least, carried))
}

/** As `cleanPlateOf`, a few pixels at a time. */
export function* cleanPlateSteps(
  workspace: Workspace,
  samples: readonly AlignedSample[],
  length: number,
  least = 0,
  carried = false,
): Steps<CleanPlate> {
  const [level, spread, support, scatter] = [0, 1, 2, 3].map(() => new Float32Array(length))
  const agreement = {
    few: MIN_SAMPLES,
    share: GROUP_SHARE,
    lengthSigma: GROUP_LENGTH_SIGMA,
    widthSigma: GROUP_WIDTH_SIGMA,
    least,
  }
  for (let from = 0; from < length; from += COLUMNS) {
    yield
    workspace.within((scratch) => {
      const to = Math.min(from + COLUMNS, length)
      const { columns, sorted, seen } = sortedColumns(workspace, scratch, samples, from, to)
      const [levels, spreads, supports, halves] = [level, spread, support, scatter].map((all) =>
        all.subarray(from, to),
      )
      agreeingGroups(workspace, sorted, seen, agreement, levels, spreads, supports, halves)
      liftClipped(columns, { level: levels, spread: spreads, support: supports }, least)
    })
  }
  if (carried) for (let i = 0; i < length; i++) scatter[i] *= MAD_TO_SIGMA
  else scatter.fill(0)
  return { level, spread, scatter, support }
}

/** Per pixel from `from` up to, not including, `to`: all its samples, also ascending, and how many of them there are. */
function sortedColumns(
  workspace: Workspace,
  scratch: Scratch,
  samples: readonly AlignedSample[],
  from: number,
  to: number,
): { columns: Columns; sorted: Float32Array; seen: Int32Array } {
  const n = samples.length
  const rows = scratch.floats(n * COLUMNS)
  const validities = scratch.bytes(n * COLUMNS)
  const exposures = scratch.floats(n)
  for (const [k, { aligned, validity, exposure }] of samples.entries()) {
    rows.set(aligned.subarray(from, to), k * COLUMNS)
    validities.set(validity.subarray(from, to), k * COLUMNS)
    exposures[k] = exposure
  }
  const sorted = scratch.floats(n * COLUMNS)
  const seen = scratch.integers(COLUMNS)
  sortColumns(workspace, rows, validities, exposures, COLUMNS, sorted, seen)
  return { columns: { rows, validities, exposures, across: COLUMNS }, sorted, seen }
}
