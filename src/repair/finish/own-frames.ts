// What the plate's own frames come to that show the region empty, measured as a patch is. Inside and ring are each told in units of
// what the plate's grain has there; that law is told by a few smooth places, and where it is off for one of both, by texture that
// stirs or a light that only one has, a true frame does not come to 1. What it comes to instead is taken out of what patches do.
import { FEATHER_PX } from '../../defaults.js'
import { readRect } from '../../footage/plate.js'
import { featheredAlpha, type Region } from '../../region/region.js'
import { emptyBest } from '../hide/near-noise.js'
import type { RepairedFrame, RepairJob } from '../repair.js'
import type { SideChange } from './change.js'
import type { MeasuredFrame, PairChange } from './measured.js'
import { changedOf, OVER_TIME, type Stray, sampleVariance, strayOf } from './stray.js'

/** Fewer pairs of frames that follow each other are no sample. */
const MIN_PAIRS = 4

/**
 * Where the pairs say so different things, it is somebody who passes on some of them, or a codec. On two cameras that nothing was tuned
 * on it is 0.5 and 4, on 17 places of others and on plaza and road 0.02 to 0.3.
 */
const MAX_ERROR = 0.3

/** Inside over the ring, ratios of variances. */
export interface OwnReading {
  /** R, G, B. */
  readonly noise: readonly [number, number, number]
  readonly flicker: number
  /** Standard error of green's noise, relative. */
  readonly error: number
  /** From pair to pair. */
  readonly stray: Stray
}

/** Takes in frames in their order. */
interface Meter {
  add(target: number, made: Pick<RepairedFrame, 'target' | 'repaired' | 'patch' | 'alpha' | 'mask'>): void
  readonly measured: readonly MeasuredFrame[]
}

const known = new WeakMap<RepairJob, Promise<OwnReading | null>>()

/**
 * @param meterOf measures the frames of a job, its own frames not taken out
 * @returns null where the camera moves, or too few frames in a row show the region empty
 * @throws FRAME_UNREADABLE, FRAME_MISSING from the footage
 */
export function ownReading(job: RepairJob, meterOf: (job: RepairJob) => Meter): Promise<OwnReading | null> {
  const found = known.get(job) ?? read(job, meterOf)
  known.set(job, found)
  return found
}

/** Of a job of which it was found elsewhere: it is not read again. */
export function knowOwnReading(job: RepairJob, own: OwnReading | null): void {
  known.set(job, Promise.resolve(own))
}

async function read(job: RepairJob, meterOf: (job: RepairJob) => Meter): Promise<OwnReading | null> {
  const { region, target, result } = job
  const best = emptyBest(result)
  const frames = best.filter((f) => best.includes(f - 1) || best.includes(f + 1))
  if (frames.length <= MIN_PAIRS) return null
  const masks = [...region.frames.values()]
  const mask = masks[masks.length >> 1]!
  const { window } = region
  const alpha = featheredAlpha(mask.inside, window.w, FEATHER_PX)
  const here: Region = { ...region, frames: new Map(frames.map((frame) => [frame, mask])) }
  const meter = meterOf({ ...job, region: here })
  for (const frame of frames) {
    const seen = await readRect(target, frame, window)
    meter.add(frame, { target: seen, repaired: seen, patch: seen, alpha, mask: mask.inside })
  }
  return readingOf(meter.measured.flatMap(({ change }) => (typeof change === 'string' ? [] : [change])))
}

/** What pairs of the plate's own frames come to. @returns null where they are too few */
export function readingOf(pairs: readonly PairChange[]): OwnReading | null {
  if (pairs.length < MIN_PAIRS) return null
  const ratio = (of: (side: SideChange) => number, left?: PairChange) => {
    const sum = (side: 'inside' | 'ring') =>
      pairs.reduce((all, pair) => (pair === left ? all : all + of(pair[side])), 0)
    return sum('inside') / sum('ring')
  }
  const green = (side: SideChange) => side.noise[1]
  // M. Quenouille's jackknife, Notes on Bias in Estimation (Biometrika 1956): each pair left out in turn.
  const without = pairs.map((pair) => Math.log(ratio(green, pair)))
  const mean = without.reduce((all, v) => all + v, 0) / pairs.length
  const squares = without.reduce((all, v) => all + (v - mean) ** 2, 0)
  const error = Math.sqrt(((pairs.length - 1) / pairs.length) * squares)
  const own: OwnReading = {
    noise: [ratio((s) => s.noise[0]), ratio(green), ratio((s) => s.noise[2])].map((v) =>
      beyondChance(v, error),
    ) as unknown as OwnReading['noise'],
    flicker: beyondChance(
      ratio((s) => s.flicker),
      error,
    ),
    error,
    stray: { flicker: strayFrom(pairs, 'flicker'), noise: strayFrom(pairs, 'noise') },
  }
  const isTold = [...own.noise, own.flicker].every((v) => v > 0 && Number.isFinite(v))
  return isTold && error <= MAX_ERROR ? own : null
}

function strayFrom(pairs: readonly PairChange[], measure: keyof Stray): number {
  return Math.sqrt(
    sampleVariance(
      pairs.map(({ inside, ring }) => strayOf(changedOf(inside)[measure], changedOf(ring)[measure])),
    ),
  )
}

/** As much of a ratio of variances as is more than chance: N. Wiener's filter of one number (1949), on its logarithm. */
function beyondChance(ratio: number, error: number): number {
  const square = Math.log(ratio) ** 2
  return square > 0 ? ratio ** (square / (square + (2 * OVER_TIME) ** 2 + error ** 2)) : 1
}

/** A patch's side beside what the plate's own frames come to. */
export function besideOwn(inside: SideChange, own: OwnReading | null): SideChange {
  if (own === null) return inside
  const noise = inside.noise.map((v, c) => v / own.noise[c]!) as unknown as SideChange['noise']
  return {
    ...inside,
    noise,
    flicker: inside.flicker / own.flicker,
    error: Math.hypot(inside.error, own.error),
  }
}
