// The pairs of frames that a candidate lays on each other, and how far each is from what was planted.
import type { Transform } from '../../src/raster/transform.js'
import { transformOf } from '../../src/raster/transform.js'
import type { Candidate } from '../../src/search/result.js'
import { type Case, middleOf } from './case.js'
import type { Label } from './pick-windows.js'
import { between, placeError, regionOn, sees } from './places.js'
import type { Prepared } from './prepare.js'

/** Further off than this is another place, not the same one badly met. */
const MISPLACED_PX = 1

export interface Pair {
  readonly target: number
  readonly donor: number
  /** Takes the donor's pixel to its place on the target. */
  readonly found: Transform
  /** null for the members of a stack or a mosaic, which carry gains only. */
  readonly stops: number | null
}

/** Every donor that a candidate lays on a target frame. */
export function pairsOf({ frames }: Case, candidate: Candidate): Pair[] {
  const pairs = candidate.frames.flatMap((match): Pair[] => {
    const { target, donor, stops } = match
    const together = match.stack ?? match.pieces
    return together === undefined
      ? [{ target, donor, found: transformOf(match), stops }]
      : together.map((s) => ({ target, donor: s.frame, found: transformOf(s), stops: null }))
  })
  for (const { donor } of pairs)
    if (!frames.includes(donor)) throw new Error(`${candidate.id} lends frame ${donor}, which is none`)
  return pairs
}

export function labelOf({ frames, labels, window }: Case, donor: number): Label {
  // The window's own frames hold the occluder.
  return window.frames.includes(donor) ? 'disturbed' : labels[frames.indexOf(donor)]
}

/** Per pair whose donor sees all of the region, how far from its true place it lies; and whether any is misplaced. */
export function placesOf(
  planted: Case,
  candidate: Candidate,
): { readonly places: number[]; readonly misplaced: boolean } {
  const all = pairsOf(planted, candidate).map((pair) => ({ pair, px: errorOf(planted, pair) }))
  return {
    places: all.filter(({ pair }) => sees(planted, pair.donor)).map(({ px }) => px),
    misplaced: all.some(({ px }) => px > MISPLACED_PX),
  }
}

function errorOf(planted: Case, { donor, target, found }: Pair): number {
  const { pixels } = regionOn(planted, target)
  return placeError(found, between(planted, donor, target), pixels, planted.crop.w)
}

export function errorsOf({ planted, oracle }: Prepared, pairs: readonly Pair[]) {
  const { motion, frames, window } = planted
  const trueStops = new Map(oracle.donors.map((d) => [d.frame, d.stops]))
  const stopsErrors: number[] = []
  const plantedStopsErrors: number[] = []
  for (const { target, donor, stops } of pairs) {
    const truth = trueStops.get(donor)
    if (stops === null || truth === undefined || target !== middleOf(window)) continue
    const to = motion[frames.indexOf(target)]
    const from = motion[frames.indexOf(donor)]
    stopsErrors.push(stops - truth)
    plantedStopsErrors.push(stops - (to.stops - from.stops))
  }
  return { offsetErrors: pairs.map((pair) => errorOf(planted, pair)), stopsErrors, plantedStopsErrors }
}
