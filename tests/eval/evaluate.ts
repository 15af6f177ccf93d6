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
import { type PieceMap, piecesOn, type Steps, stepRatio, stepsAcross } from './seams.js'
import { thirdsOf } from './thirds.js'

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
  /** Of a mosaic: how much larger the step across its seams is than the truth's there. */
  readonly seamStep: number | null
  /** The worst that truly stands in any donor it uses; of a mosaic, in what its pieces lend, where that is known. */
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
  const steps: Steps[] = []
  const { box } = planted
  for (const match of candidate.frames) {
    // Grain that is put back is right for the eye and wrong for a sum of squares.
    const { repaired, rect } = await repairFrame(job, match, candidate.grain, { addGrain: false })
    const at = regionPixels({ ...box, x: box.x - rect.x, y: box.y - rect.y }, rect.w)
    const shown = pictureOf(repaired)
    const truth = truths.get(match.target)!
    errors.set(match.target, squaredError(shown, truth, at, truthAt))
    luminance.push(squaredLuminanceError(shown, truth, at, truthAt))
    const pieces = piecesOf(candidate, match, box)
    if (pieces === null) continue
    const [from, trueFrom] = [(box.y - rect.y) * rect.w + box.x - rect.x, box.y * planted.crop.w + box.x]
    steps.push(stepsAcross(pieces, box.w, shown, from, truth, trueFrom))
  }
  const { id, kind, score, verdict, why, clean, seam, ncc } = candidate
  const labels = candidate.frames.some((match) => piecesOf(candidate, match, box) !== null)
    ? candidate.frames.flatMap((match) => labelsOfPieces(planted, candidate, match))
    : pairsOf(planted, candidate).map((p) => labelOf(planted, p.donor))
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
    seamStep: stepRatio(steps),
    label: WORST[Math.max(...labels.map((l) => WORST.indexOf(l)))],
    clean,
    seam,
    ncc,
  }
}

function expectedOf({ expected, interval }: Candidate): Expected | null {
  if (expected === null || interval === null || interval === undefined) return null
  return { db: expected, low: interval[0], high: interval[1] }
}

type Mosaic = Candidate & { readonly map?: PieceMap }
type Pieced = Candidate['frames'][number] & {
  readonly map?: { readonly dx: number; readonly dy: number }
  readonly pieces?: readonly { readonly frame: number; readonly dx: number; readonly dy: number }[]
}

function piecesOf({ map }: Mosaic, match: Pieced, box: Case['box']): Int16Array | null {
  return map !== undefined && match.map !== undefined ? piecesOn(map, match.map, box) : null
}

/** Share of a piece that a covered third may fill before it lends somebody. */
const COVERED = 0.01

/**
 * What truly stands in each piece. Who is in which part of a donor is known of the painted thirds only; elsewhere a piece
 * of a disturbed donor may be the empty part of it.
 */
function labelsOfPieces(planted: Case, candidate: Mosaic, match: Pieced): Label[] {
  const { box, frames, thirds } = planted
  const lent = piecesOf(candidate, match, box)!
  const third = thirds && thirdsOf(box, thirds.angle)
  return (match.pieces ?? []).map(({ frame }, piece): Label => {
    const whole = labelOf(planted, frame)
    if (third === undefined) return whole === 'disturbed' ? 'unsure' : whole
    const covered = thirds!.covered[frames.indexOf(frame)]
    let pixels = 0
    let bad = 0
    for (let i = 0; i < lent.length; i++) {
      if (lent[i] !== piece) continue
      pixels++
      if (third[i] === covered) bad++
    }
    return bad > COVERED * pixels ? 'disturbed' : 'empty'
  })
}

interface Pair {
  readonly target: number
  readonly donor: number
  readonly dx: number
  readonly dy: number
  /** null for the members of a stack or a mosaic, which carry gains only. */
  readonly stops: number | null
}

/** Every donor that a candidate lays on a target frame. */
function pairsOf({ motion, frames }: Case, candidate: Candidate): Pair[] {
  const pairs = candidate.frames.flatMap((match: Pieced): Pair[] => {
    const { target, donor, dx, dy, stops } = match
    const together = match.stack ?? match.pieces
    return together === undefined
      ? [{ target, donor, dx, dy, stops }]
      : together.map((s) => ({ target, donor: s.frame, dx: s.dx, dy: s.dy, stops: null }))
  })
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
