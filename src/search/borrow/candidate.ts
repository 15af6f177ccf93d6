// A moment made into a candidate: the run that lands its peak on the wanted frame, with all that lifting it needs.
import type { Workspace } from '../../kernels/workspace.js'
import type { Rect } from '../../raster/rect.js'
import type { Offset } from '../../raster/transform.js'
import type { Region } from '../../region/region.js'
import { type FrameKey, keyOf } from '../../shot/frame-key.js'
import type { TrackedFrame } from '../../track/frame-tracker.js'
import type { Steps } from '../../turns.js'
import { Measurer } from '../measure.js'
import { round, roundedOffset } from '../over-frames.js'
import { PairMaker } from '../pairs.js'
import { offsetBetween, type Registered } from '../register.js'
import type { Candidate } from '../result.js'
import { allRound } from './all-round.js'
import { gainBetween, type Measured } from './changes.js'
import { EdgeSteps, type Pair } from './edge-step.js'
import { fadesOf } from './fade.js'
import { fitOf, fitScore } from './fit.js'
import { fitVerdict, isHardlyLight } from './fit-verdict.js'
import { momentEntry } from './moment-entry.js'
import { type FoundMoment, STRONG_SHARE } from './moments.js'
import { type AgainstLight, againstLight, meanTileLight, type TileSource } from './tile-light.js'
import { unlitFrames } from './unlit-frames.js'

/** All that candidates are made from; its region is the searched surface. */
export interface BorrowJob extends TileSource {
  readonly measured: Measured
  readonly seen: readonly TrackedFrame[]
  readonly region: Region
  /** What is lent to, and what of a frame holds picture, by plate. */
  readonly lentTo: Region
  readonly pictures: readonly Rect[]
  readonly workspace: Workspace
  readonly frames: readonly number[]
  readonly peak: number
  readonly carry: Offset
  readonly like: FrameKey | null
  readonly reach: number
  readonly mayLend: (frame: FrameKey) => boolean
}

/** The pairs that are lifted, each with how much of its stops is. */
function liftsOf(pairs: readonly Pair[], moment: FoundMoment): (Pair & { share: number })[] {
  const frames = pairs.map(({ target, donor }) => ({ target: target.frame, donor: donor.frame }))
  const shares = fadesOf({ frames, moment })
  return pairs
    .map((pair) => ({ ...pair, share: shares.get(pair.target.frame)! }))
    .filter(({ share }) => share > 0)
}

/** Makes the candidates of one search. */
export class BorrowMaker {
  readonly #frames: Map<string, Registered>
  readonly #noises: Map<string, number | null>
  readonly #pairs: PairMaker
  readonly #edges: EdgeSteps

  constructor(readonly job: BorrowJob) {
    this.#frames = new Map(job.measured.registration.frames.map((f) => [keyOf(f), f]))
    this.#noises = new Map(job.seen.map((f) => [keyOf(f), f.noise]))
    // For every target frame the same: see lookOf.
    const mask = job.region.frames.get(job.frames[0])!
    this.#edges = new EdgeSteps(job)
    this.#pairs = new PairMaker(job.workspace, job.measured.registration, mask, job.reach)
  }

  /**
   * The candidate, or the sentence why the moment makes none.
   *
   * @param isUnread frames against which nothing is said, since nothing is known of them
   */
  *candidate(
    plate: number,
    seen: FoundMoment,
    isUnread: (frame: FrameKey) => boolean = () => false,
  ): Steps<Candidate | string, unknown> {
    const { workspace, measured, frames, peak, region, carry, mayLend } = this.job
    const timeOffset = seen.peak - peak
    if (plate === 0 && timeOffset === 0) {
      return `the change on ${seen.start}-${seen.end} is already on frame ${peak}: nothing to borrow from it`
    }
    const pairs = frames.flatMap((frame) => {
      const target = this.#frames.get(keyOf({ plate: 0, frame }))
      const donor = this.#frames.get(keyOf({ plate, frame: frame + timeOffset }))
      return target && donor?.held && mayLend(donor) ? [{ target, donor }] : []
    })
    const peakFrame = this.#frames.get(keyOf({ plate, frame: seen.peak }))!
    if (pairs.length === 0)
      return `no frame of the change on ${seen.start}-${seen.end} can be laid on the range`
    const targets = pairs.map((p) => p.target)
    const donors = pairs.map((p) => p.donor)
    const compared = yield* this.#pairs.of(targets, donors)
    const noiseOf = (f: Registered) => this.#noises.get(keyOf(f)) ?? null
    const run = yield* new Measurer(workspace, region, compared, noiseOf).measure({
      shares: pairs.map((_, column) => [{ column, weight: 1 }]),
    })
    const unlit = unlitFrames(measured, plate, seen).map(
      ({ frame }) => this.#frames.get(keyOf({ plate, frame }))!,
    )
    const before = yield* meanTileLight(this.job, unlit)
    const against = seen.what === 'light' ? yield* this.#against(plate, seen, before) : null
    const found: FoundMoment = against?.always ? { ...seen, what: 'object' } : seen
    const step = found.what === 'light' ? yield* this.#edges.of(liftsOf(pairs, seen), unlit, seen.peak) : null
    const fit = {
      ...fitOf(measured, { ...this.job, isUnread }, plate, found, timeOffset),
      against,
      step,
      allRound: allRound(
        measured,
        plate,
        found,
        unlit.map(({ frame }) => frame),
      ),
    }
    const worst = against?.frame ?? (isHardlyLight(found) ? fit.leastVisible : null)
    const moment = momentEntry(this.job, found, peakFrame, timeOffset, {
      unlit,
      before,
      likeness: fit.likeness,
      step,
    })
    const stops = pairs.reduce((sum, { target, donor }) => sum + (donor.exposure - target.exposure), 0)
    const visible = donors.map((d) => measured.changes.get(keyOf(d))?.visible ?? 0)
    // The searched surface moves with the camera, and is carried onto the region.
    const carried = (target: Registered, donor: Registered) => {
      const { dx, dy } = offsetBetween(target, donor, region.window)
      return roundedOffset({ dx: dx + carry.dx, dy: dy + carry.dy })
    }
    return {
      id: `run${timeOffset < 0 ? '-' : '+'}${Math.abs(timeOffset)}${plate === 0 ? '' : `.p${plate + 1}`}`,
      kind: 'run',
      donor: plate,
      timeOffset,
      score: fitScore(found, fit),
      ...fitVerdict({ ...found, depthStops: moment.depthStops, coverage: moment.coverage }, fit),
      ...run.measures,
      stops: round(stops / pairs.length, 4),
      expected: null,
      shortfall: null,
      clean: round(Math.min(...visible), 4),
      frames: pairs.map(({ target, donor }, i) => ({
        ...run.frames[i],
        ...carried(target, donor),
        // The light of the whole frame, not of the surround, which the shadow may cover.
        stops: round(donor.exposure - target.exposure, 4),
        gain: gainBetween(measured, donor, target),
        expected: null,
        clean: round(visible[i], 4),
        quiet: {
          ...carried(target, peakFrame),
          gain: gainBetween(measured, peakFrame, donor),
        },
      })),
      moment: worst === null ? moment : { ...moment, worst },
    }
  }

  *#against(
    plate: number,
    { start, end, sign, course, strength }: FoundMoment,
    before: Readonly<Float64Array>,
  ): Steps<AgainstLight | null> {
    const frames = []
    for (let frame = start; frame <= end; frame++) {
      const key = keyOf({ plate, frame })
      const at = this.#frames.get(key)
      const change = this.job.measured.changes.get(key)
      const strong = (course.get(frame) ?? 0) >= STRONG_SHARE * strength
      if (at?.held && change) frames.push({ at, change, strong })
    }
    return yield* againstLight(this.job, frames, before, sign)
  }
}
