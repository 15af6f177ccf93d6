// Runs the real search on a planted plate and measures everything it returns against the truth.
import { mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { openPlate, readAlpha, readRect } from '../../src/footage/plate.js'
import type { Rect } from '../../src/raster/rect.js'
import { repairFrame } from '../../src/repair/hide/hide-pass.js'
import { openRepair, type RepairJob } from '../../src/repair/repair.js'
import { writeCandidate } from '../../src/repair/write.js'
import { type FindOptions, findDonors } from '../../src/search/hide/find.js'
import type { CandidateKind } from '../../src/search/kinds.js'
import type { Candidate, Verdict } from '../../src/search/result.js'
import type { Picture } from '../resample.js'
import { type Case, middleOf } from './case.js'
import { toDisplay } from './footage.js'
import { pictureOf } from './oracle.js'
import { type Outside, outside } from './outside.js'
import { errorsOf, labelOf, pairsOf, placesOf } from './pairs.js'
import { type Finish, finishOf, type Shown } from './patched.js'
import type { Label } from './pick-windows.js'
import { regionOn, rides } from './places.js'
import { maskPath, plateFolder, readScenery, readTruth, takeFolder } from './plant.js'
import type { Prepared } from './prepare.js'
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
  /** Per pair of frames whose donor sees all of the region: RMS distance in it from the true place, pixels. */
  readonly places: readonly number[]
  /** Some donor lies more than a pixel from its true place. */
  readonly misplaced: boolean
}

/** See patched.ts; and dB inside over the window, grain and all. */
export interface Written extends Finish {
  readonly window: number
}

export interface Evaluated {
  readonly prepared: Prepared
  readonly seconds: number
  /** Of them, until every frame was read and followed. */
  readonly followSeconds: number
  readonly candidates: readonly Judged[]
  /** The first one's patch as it is written by default; absent where the region rides along, or nothing was found. */
  readonly written?: Written
  /** Length of the 2D offset's error, pixels, per pair of frames whose donor is truly empty. */
  readonly offsetErrors: readonly number[]
  /** Error of stops against the truth in the region, and against the planted exposures, at the middle frame. */
  readonly stopsErrors: readonly number[]
  readonly plantedStopsErrors: readonly number[]
  /** What general-purpose parts make of the same footage, where it was asked for. */
  readonly outside?: Outside
}

const WORST: readonly Label[] = ['empty', 'unsure', 'disturbed']

/** @param beside whether general-purpose parts are measured on the same pairs as well: it takes minutes */
export async function evaluate(prepared: Prepared, { beside = false } = {}): Promise<Evaluated> {
  const { folder, planted } = prepared
  const started = performance.now()
  let followed = Number.NaN
  const result = await findDonors({
    ...asked(prepared),
    onProgress: ({ phase }) => {
      if (phase === 'reading') followed = performance.now()
    },
  })
  const seconds = (performance.now() - started) / 1000
  const followSeconds = (followed - started) / 1000
  const job = await openRepair(result)
  const pictures = await picturesOf(folder, planted)
  const candidates: Judged[] = []
  for (const candidate of result.candidates) {
    candidates.push(await judge(planted, job, candidate, pictures))
  }
  const written = await writtenBy(prepared, job, pictures)
  job.close()
  const pairs = result.candidates
    .filter((c) => c.verdict !== 'will not hold')
    .flatMap((c) => pairsOf(planted, c))
  const empty = pairs.filter((p) => labelOf(planted, p.donor) === 'empty')
  const errors = errorsOf(prepared, empty)
  const measured = {
    prepared,
    seconds,
    followSeconds,
    candidates,
    ...(written ? { written } : {}),
    ...errors,
  }
  return beside && rides(planted) ? { ...measured, outside: await outside(prepared, result) } : measured
}

/** Writes the first candidate's patch as the command does, reads it back, lays it over the plate and looks at all of the window. */
async function writtenBy(
  { planted, folder: plantedIn }: Prepared,
  job: RepairJob,
  pictures: ReadonlyMap<number, Pictures>,
): Promise<Written | undefined> {
  const [candidate] = job.result.candidates
  if (candidate === undefined || rides(planted)) return undefined
  const folder = await mkdtemp(join(tmpdir(), 'offcut-written-'))
  try {
    await writeCandidate(job, candidate, folder)
    const patch = await openPlate(folder)
    const whole = { x: 0, y: 0, w: patch.width, h: patch.height }
    const shown: Shown[] = []
    const regions: Int32Array[] = []
    const errors: Squares[] = []
    for (const { target } of candidate.frames) {
      const { planted: under, truth, region } = pictures.get(target)!
      const scenery = await readScenery(plantedIn, target)
      const [colours, alpha] = [await readRect(patch, target, whole), await readAlpha(patch, target, whole)]
      const data = under.data.map((v, i) => {
        const a = alpha!.data[Math.floor(i / 3)]
        return a === 0 ? v : colours.data[i] + (1 - a) * v
      })
      errors.push(squaredError({ ...under, data }, truth, region, region))
      shown.push({ repaired: { ...under, data: data.map(toDisplay) }, truth, scenery })
      regions.push(region)
    }
    return { ...finishOf(shown, regions), window: psnr(total(errors)) }
  } finally {
    await rm(folder, { recursive: true })
  }
}

/** What the search of a case is asked for. */
export function asked({ folder, planted }: Prepared): FindOptions {
  const { take, window } = planted
  const request = { target: plateFolder(folder), mask: maskPath(folder), frames: window.frames }
  return {
    ...request,
    ...(rides(planted) ? { maskAt: middleOf(window) } : {}),
    ...(take === undefined ? {} : { donors: [takeFolder(folder)] }),
  }
}

/** What is planted in a target frame, and what would be there. */
export interface Pictures {
  /** Linear light. */
  readonly planted: Picture
  /** Display-encoded. */
  readonly truth: Picture
  /** Offsets of the region's pixels into both. */
  readonly region: Int32Array
}

export async function picturesOf(folder: string, planted: Case): Promise<Map<number, Pictures>> {
  const plate = await openPlate(plateFolder(folder))
  const whole = { x: 0, y: 0, w: plate.width, h: plate.height }
  const out = new Map<number, Pictures>()
  for (const frame of planted.window.frames) {
    out.set(frame, {
      planted: pictureOf(await readRect(plate, frame, whole)),
      truth: await readTruth(folder, frame),
      region: regionOn(planted, frame).pixels,
    })
  }
  return out
}

/** The frame with a repaired part of it laid over. */
function laidOver({ width, height, data }: Picture, part: Picture, { x, y }: Rect): Picture {
  const out = { width, height, data: data.slice() }
  for (let row = 0; row < part.height; row++) {
    const from = 3 * row * part.width
    out.data.set(part.data.subarray(from, from + 3 * part.width), 3 * ((y + row) * width + x))
  }
  return out
}

/** What a candidate is really worth, on the target frames that it has. */
export async function judge(
  planted: Case,
  job: RepairJob,
  candidate: Candidate,
  pictures: ReadonlyMap<number, Pictures>,
): Promise<Judged> {
  const errors = new Map<number, Squares>()
  const luminance: Squares[] = []
  const steps: Steps[] = []
  const { box, crop } = planted
  for (const match of candidate.frames) {
    // Grain that is put back is right for the eye and wrong for a sum of squares.
    const { repaired, rect } = await repairFrame(job, candidate, match, { addGrain: false })
    const { planted: under, truth, region } = pictures.get(match.target)!
    // A region that was followed to another place leaves what hides the true one.
    const shown = laidOver(under, pictureOf(repaired), rect)
    errors.set(match.target, squaredError(shown, truth, region, region))
    luminance.push(squaredLuminanceError(shown, truth, region, region))
    const pieces = rides(planted) ? null : piecesOf(candidate, match, box)
    if (pieces === null) continue
    const from = box.y * crop.w + box.x
    steps.push(stepsAcross(pieces, box.w, shown, from, truth, from))
  }
  const { id, kind, score, verdict, why, clean, seam, ncc } = candidate
  const labels = candidate.frames.some((match: Pieced) => match.pieces !== undefined)
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
    ...placesOf(planted, candidate),
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
  const third = thirds && thirdsOf(box, thirds.angle)
  const lent = third && piecesOf(candidate, match, box)!
  return (match.pieces ?? []).map(({ frame }, piece): Label => {
    const whole = labelOf(planted, frame)
    if (third === undefined || lent === undefined) return whole === 'disturbed' ? 'unsure' : whole
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
