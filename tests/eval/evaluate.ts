// Runs the real search on a planted plate and measures everything it returns against the truth.
import { openRepair, type RepairJob, repairFrame } from '../../src/repair/repair.js'
import { findDonors } from '../../src/search/hide/find.js'
import type { Candidate, CandidateKind, Verdict } from '../../src/search/result.js'
import { pictureOf } from './oracle.js'
import type { Label } from './pick-windows.js'
import { type Case, maskPath, middleOf, plateFolder, readTruth } from './plant.js'
import type { Prepared } from './prepare.js'
import { regionPixels } from './region.js'
import { BEST_DB, psnr, type Squares, squaredError, squaredLuminanceError, total } from './score.js'

/** What a candidate says of itself: dB inside, and the ends of its 90 % interval. */
export interface Expected {
  readonly db: number
  readonly low: number
  readonly high: number
}

/** One candidate's numbers and what they are really worth. */
export interface Judged {
  readonly id: string
  readonly kind: CandidateKind
  readonly score: number
  readonly verdict: Verdict
  readonly why: string
  /** dB inside the mask. */
  readonly middle: number
  readonly window: number
  /** dB of display-encoded luminance over the window: what the candidate's own expectation speaks of. */
  readonly windowLuminance: number
  readonly expected: Expected | null
  /** The worst that truly stands in any donor it uses. */
  readonly label: Label
  readonly clean: number | null
  readonly seam: number | null
  readonly ncc: number | null
}

export interface Evaluated {
  readonly prepared: Prepared
  readonly seconds: number
  readonly candidates: readonly Judged[]
  /** Length of the 2D offset's error, pixels, per pair of frames whose donor is truly empty. */
  readonly offsetErrors: readonly number[]
  /** Error of stops against the truth in the region, and against the planted exposures, at the middle frame. */
  readonly stopsErrors: readonly number[]
  readonly plantedStopsErrors: readonly number[]
}

const WORST: readonly Label[] = ['empty', 'unsure', 'disturbed']

export async function evaluate(prepared: Prepared): Promise<Evaluated> {
  const { folder, planted } = prepared
  const started = performance.now()
  const result = await findDonors({
    target: plateFolder(folder),
    mask: maskPath(folder),
    frames: planted.window.frames,
  })
  const seconds = (performance.now() - started) / 1000
  const job = await openRepair(result)
  const truths = new Map<number, Awaited<ReturnType<typeof readTruth>>>()
  for (const f of planted.window.frames) truths.set(f, await readTruth(folder, f))
  const candidates: Judged[] = []
  for (const candidate of result.candidates) {
    candidates.push(await judge(planted, job, candidate, truths))
  }
  const pairs = result.candidates
    .filter((c) => c.verdict !== 'will not hold')
    .flatMap((c) => pairsOf(planted, c))
  const empty = pairs.filter((p) => labelOf(planted, p.donor) === 'empty')
  return { prepared, seconds, candidates, ...errorsOf(prepared, empty) }
}

async function judge(
  planted: Case,
  job: RepairJob,
  candidate: Candidate,
  truths: ReadonlyMap<number, Awaited<ReturnType<typeof readTruth>>>,
): Promise<Judged> {
  const truthAt = regionPixels(planted.box, planted.crop.w)
  const errors = new Map<number, Squares>()
  const luminance: Squares[] = []
  for (const match of candidate.frames) {
    // Grain that is put back is right for the eye and wrong for a sum of squares.
    const { repaired, rect } = await repairFrame(job, match, candidate.grain, { addGrain: false })
    const { box } = planted
    const at = regionPixels({ ...box, x: box.x - rect.x, y: box.y - rect.y }, rect.w)
    const shown = pictureOf(repaired)
    const truth = truths.get(match.target)!
    errors.set(match.target, squaredError(shown, truth, at, truthAt))
    luminance.push(squaredLuminanceError(shown, truth, at, truthAt))
  }
  const { id, kind, score, verdict, why, clean, seam, ncc } = candidate
  const labels = pairsOf(planted, candidate).map((p) => labelOf(planted, p.donor))
  const middle = errors.get(middleOf(planted.window))
  return {
    id,
    kind,
    score,
    verdict,
    why,
    // A candidate cut to fewer frames is judged on those it has.
    middle: middle ? psnr(middle) : BEST_DB,
    window: psnr(total([...errors.values()])),
    windowLuminance: psnr(total(luminance)),
    expected: expectedOf(candidate),
    label: WORST[Math.max(...labels.map((l) => WORST.indexOf(l)))],
    clean,
    seam,
    ncc,
  }
}

/** A search that expects nothing has no such field. */
function expectedOf(candidate: Candidate & { readonly expected?: Expected | null }): Expected | null {
  return candidate.expected ?? null
}

interface Pair {
  readonly target: number
  readonly donor: number
  readonly dx: number
  readonly dy: number
  /** null for the members of a stack, which carry gains only. */
  readonly stops: number | null
}

/** Every donor that a candidate lays on a target frame. */
function pairsOf({ motion, frames }: Case, candidate: Candidate): Pair[] {
  const pairs = candidate.frames.flatMap(({ target, donor, dx, dy, stops, stack }): Pair[] =>
    stack === undefined
      ? [{ target, donor, dx, dy, stops }]
      : stack.map((s) => ({ target, donor: s.frame, dx: s.dx, dy: s.dy, stops: null })),
  )
  for (const { donor } of pairs) {
    if (motion[frames.indexOf(donor)] === undefined)
      throw new Error(`${candidate.id} lends frame ${donor}, which is none`)
  }
  return pairs
}

function labelOf({ frames, labels, window }: Case, donor: number): Label {
  // The window's own frames hold the occluder.
  return window.frames.includes(donor) ? 'disturbed' : labels[frames.indexOf(donor)]
}

function errorsOf({ planted, oracle }: Prepared, pairs: readonly Pair[]) {
  const { motion, frames, window } = planted
  const trueStops = new Map(oracle.donors.map((d) => [d.frame, d.stops]))
  const offsetErrors: number[] = []
  const stopsErrors: number[] = []
  const plantedStopsErrors: number[] = []
  for (const { target, donor, dx, dy, stops } of pairs) {
    const to = motion[frames.indexOf(target)]
    const from = motion[frames.indexOf(donor)]
    offsetErrors.push(Math.hypot(dx - (to.dx - from.dx), dy - (to.dy - from.dy)))
    if (stops === null || target !== middleOf(window)) continue
    stopsErrors.push(stops - trueStops.get(donor)!)
    plantedStopsErrors.push(stops - (to.stops - from.stops))
  }
  return { offsetErrors, stopsErrors, plantedStopsErrors }
}
