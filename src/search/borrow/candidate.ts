// A moment made into a candidate: the run that lands its peak on the wanted frame, with all that lifting it needs.
import type { Workspace } from '../../kernels/workspace.js'
import { BESIDE, COVERED, LIT } from '../../match/light-change.js'
import type { Offset } from '../../raster/transform.js'
import { type FrameKey, keyOf } from '../../shot/frame-key.js'
import type { Steps } from '../../turns.js'
import { Measurer } from '../measure.js'
import { PairMaker } from '../pairs.js'
import type { Registered } from '../register.js'
import type { Candidate, Moment } from '../result.js'
import { type Fit, fitScore, fitVerdict } from './fit.js'
import type { FrameChange } from './frame-change.js'
import { changeColour } from './moment-colour.js'
import { type AgainstLight, againstLight } from './moment-lift.js'
import { depthOf, type FoundMoment, STRONG_SHARE } from './moments.js'
import { type Coloured, meanTileExposure } from './tile-exposure.js'
import { unlitFrames } from './unlit-frames.js'

/** Frames beyond the moment and the run whose depth is told: what a plot needs to show that it is quiet there. */
const PLOT_MARGIN = 12

type Gain = [number, number, number]

/** All that candidates are made from; its region is the searched surface. */
export interface BorrowJob extends Coloured {
  readonly workspace: Workspace
  readonly frames: readonly number[]
  readonly peak: number
  readonly carry: Offset
  readonly like: FrameKey | null
  readonly reach: number
}

/** Makes the candidates of one search. */
export class BorrowMaker {
  readonly #frames: Map<string, Registered>
  readonly #noises: Map<string, number | null>
  readonly #pairs: PairMaker

  constructor(readonly job: BorrowJob) {
    this.#frames = new Map(job.measured.registration.frames.map((f) => [keyOf(f), f]))
    this.#noises = new Map(job.seen.map((f) => [keyOf(f), f.noise]))
    // For every target frame the same: see lookOf.
    const mask = job.region.frames.get(job.frames[0])!
    this.#pairs = new PairMaker(job.workspace, job.measured.registration, mask, job.reach)
  }

  /** The candidate, or the sentence why the moment makes none. */
  *candidate(plate: number, seen: FoundMoment): Steps<Candidate | string, unknown> {
    const { workspace, measured, frames, peak, region, carry } = this.job
    const timeOffset = seen.peak - peak
    if (plate === 0 && timeOffset === 0) {
      return `the change on ${seen.start}-${seen.end} is already on frame ${peak}: nothing to borrow from it`
    }
    const pairs = frames.flatMap((frame) => {
      const target = this.#frames.get(`0:${frame}`)
      const donor = this.#frames.get(`${plate}:${frame + timeOffset}`)
      return target && donor?.held ? [{ target, donor }] : []
    })
    const peakFrame = this.#frames.get(`${plate}:${seen.peak}`)!
    if (pairs.length === 0)
      return `no frame of the change on ${seen.start}-${seen.end} can be laid on the range`
    const targets = pairs.map((p) => p.target)
    const donors = pairs.map((p) => p.donor)
    const compared = yield* this.#pairs.of(targets, donors)
    const noiseOf = (f: Registered) => this.#noises.get(keyOf(f)) ?? null
    const run = yield* new Measurer(workspace, region, compared, noiseOf).measure({
      cost: 0,
      shares: pairs.map((_, column) => [{ column, weight: 1 }]),
    })
    const quiet = unlitFrames(measured, plate, seen).map((f) => this.#frames.get(`${plate}:${f.frame}`)!)
    const before = meanTileExposure(this.job, quiet)
    const against = seen.what === 'light' ? this.#against(plate, seen, before) : null
    const found: FoundMoment = against?.always ? { ...seen, what: 'object' } : seen
    const fit = { ...this.#fit(plate, found, timeOffset), against }
    const moment = this.#moment(plate, found, peakFrame, timeOffset, fit, { quiet, before })
    const visible = donors.map((d) => measured.changes.get(keyOf(d))?.visible ?? 0)
    return {
      id: `run${timeOffset < 0 ? '-' : '+'}${Math.abs(timeOffset)}${plate === 0 ? '' : `.p${plate + 1}`}`,
      kind: 'run',
      donor: plate,
      timeOffset,
      score: fitScore(found, fit),
      ...fitVerdict({ ...found, depthStops: moment.depthStops, coverage: moment.coverage }, fit),
      ...run.measures,
      stops: round(mean(pairs.map(({ target, donor }) => donor.exposure - target.exposure)), 4),
      inside: null,
      clean: round(Math.min(...visible), 4),
      frames: pairs.map(({ target, donor }, i) => ({
        ...run.frames[i],
        dx: round(donor.dx - target.dx + carry.dx, 4),
        dy: round(donor.dy - target.dy + carry.dy, 4),
        // The light of the whole frame, not of the surround, which the shadow may cover.
        stops: round(donor.exposure - target.exposure, 4),
        gain: this.#gain(donor, target),
        inside: null,
        clean: round(visible[i], 4),
        quiet: {
          dx: round(peakFrame.dx - target.dx + carry.dx, 4),
          dy: round(peakFrame.dy - target.dy + carry.dy, 4),
          gain: this.#gain(peakFrame, donor),
        },
      })),
      moment: against === null ? moment : { ...moment, worst: against.frame },
    }
  }

  /** Brings `from` to the light of `to`. */
  #gain(from: Registered, to: Registered): Gain {
    const a = this.job.measured.light.get(keyOf(from))!.gain
    const b = this.job.measured.light.get(keyOf(to))!.gain
    return [round(a[0] / b[0], 5), round(a[1] / b[1], 5), round(a[2] / b[2], 5)]
  }

  #against(
    plate: number,
    { start, end, sign, course, strength }: FoundMoment,
    before: Readonly<Float64Array>,
  ): AgainstLight | null {
    const frames = []
    for (let frame = start; frame <= end; frame++) {
      const at = this.#frames.get(`${plate}:${frame}`)
      const change = this.job.measured.changes.get(`${plate}:${frame}`)
      const strong = (course.get(frame) ?? 0) >= STRONG_SHARE * strength
      if (at?.held && change) frames.push({ at, change, strong })
    }
    return againstLight(this.job, frames, before, sign)
  }

  #fit(plate: number, found: FoundMoment, timeOffset: number): Omit<Fit, 'against'> {
    const { frames, measured, like } = this.job
    const atPeak = Math.max(found.strength, 1e-9)
    const inMoment = (frame: number) => frame >= found.start && frame <= found.end
    const share = (frame: number) => Math.min(1, (found.course.get(frame) ?? 0) / atPeak)
    const missing: number[] = []
    let visible = 1
    let sum = 0
    const used = new Set(frames.map((f) => f + timeOffset))
    for (const frame of used) {
      const f = this.#frames.get(`${plate}:${frame}`)
      if (!f?.held) missing.push(frame - timeOffset)
      else if (inMoment(frame)) visible = Math.min(visible, measured.changes.get(keyOf(f))?.visible ?? 1)
    }
    let all = 0
    for (let frame = found.start; frame <= found.end; frame++) {
      all += share(frame)
      if (used.has(frame)) sum += share(frame)
    }
    const gone = missing.length > 0 && all > 0 ? 1 - sum / all : 0
    return {
      atStart: share(frames[0] + timeOffset),
      atEnd: share(frames[frames.length - 1] + timeOffset),
      missing,
      missingStrength: gone,
      rangeFrames: frames.length,
      momentFrames: found.end - found.start + 1,
      visible,
      likeness: like === null ? null : this.#likeness(plate, found, like),
    }
  }

  /**
   * How like the wanted frame's change the moment is where it is most like it: 1 - |a - b|^2 / (|a|^2 + |b|^2) over
   * the region's tiles that both show.
   */
  #likeness(plate: number, found: FoundMoment, like: FrameKey): number {
    const { changes } = this.job.measured
    const wanted = changes.get(keyOf(like))
    if (!wanted) return 0
    let best = -1
    for (let frame = found.start; frame <= found.end; frame++) {
      const f = changes.get(`${plate}:${frame}`)
      if (f) best = Math.max(best, this.#alike(wanted, f))
    }
    return round(best, 4)
  }

  #alike(a: FrameChange, b: FrameChange): number {
    const { grid, quiet } = this.job.measured
    let difference = 0
    let size = 0
    for (let tile = 0; tile < grid.weight.length; tile++) {
      const w = grid.weight[tile]
      if (w === 0 || a.tiles.pixels[tile] === 0 || b.tiles.pixels[tile] === 0) continue
      const p = a.tiles.change[tile] - quiet.change[tile]
      const q = b.tiles.change[tile] - quiet.change[tile]
      difference += w * (p - q) ** 2
      size += w * (p * p + q * q)
    }
    return size > 0 ? 1 - difference / size : 0
  }

  #moment(
    plate: number,
    found: FoundMoment,
    peakFrame: Registered,
    timeOffset: number,
    fit: Fit,
    { quiet, before }: { quiet: readonly Registered[]; before: Readonly<Float64Array> },
  ): Moment {
    const { measured, frames } = this.job
    const peakChange = measured.changes.get(keyOf(peakFrame))!
    const counts = (kind: number) =>
      found.what === 'light' ? kind === LIT : kind === COVERED || kind === BESIDE
    const near = this.#levelNear(quiet, found.peak)
    const { depth, coverage } = depthOf(peakChange, measured.quiet, measured.grid, counts, found.sign, near)
    const from = Math.min(found.start, frames[0] + timeOffset) - PLOT_MARGIN
    const to = Math.max(found.end, frames[frames.length - 1] + timeOffset) + PLOT_MARGIN
    const side = found.sign === 'darker' ? -1 : 1
    const within = (frame: number) => frame >= found.start && frame <= found.end
    const depths = [...measured.changes]
      .filter(([key, f]) => key.startsWith(`${plate}:`) && f.frame >= from && f.frame <= to)
      .flatMap(([, f]) => {
        // Within the moment it is told as it would be if nobody stood in front.
        const stops = within(f.frame) ? found.course.get(f.frame) : f[found.sign]
        return stops === undefined ? [] : [{ frame: f.frame, stops: round(side * stops, 4) }]
      })
      .sort((a, b) => a.frame - b.frame)
    return {
      donor: plate,
      start: found.start,
      peak: found.peak,
      end: found.end,
      what: found.what,
      sign: found.sign,
      depthStops: round(depth, 4),
      coverage: round(coverage, 4),
      surface: found.surface === null ? null : round(found.surface, 4),
      colour: changeColour(this.job, peakChange, peakFrame, before, found.sign),
      ...(fit.likeness === null ? {} : { likeness: fit.likeness }),
      depths,
      quiet: quiet.map((q) => q.frame),
      quietState: quiet.map((q) => ({
        plate,
        frame: q.frame,
        dx: round(q.dx - peakFrame.dx, 4),
        dy: round(q.dy - peakFrame.dy, 4),
        gain: this.#gain(q, peakFrame),
        weight: 1 / quiet.length,
      })),
    }
  }

  /** What counts as no change at a frame: between the quiet frames before it and those after, as the light drifts. */
  #levelNear(quiet: readonly Registered[], frame: number): Float32Array {
    const { changes, grid, quiet: whole } = this.job.measured
    const side = (frames: readonly Registered[]) => {
      const at = frames.reduce((sum, q) => sum + q.frame, 0) / frames.length
      const tiles = frames.map((q) => changes.get(keyOf(q))!.tiles)
      return { at, level: (tile: number) => mean(tiles.map((c) => c.change[tile])) }
    }
    const earlier = quiet.filter((q) => q.frame < frame)
    const later = quiet.filter((q) => q.frame > frame)
    if (quiet.length === 0) return whole.change
    const before = side(earlier.length > 0 ? earlier : quiet)
    const after = side(later.length > 0 ? later : quiet)
    const late = after.at > before.at ? (frame - before.at) / (after.at - before.at) : 0
    const level = new Float32Array(grid.weight.length)
    for (let tile = 0; tile < level.length; tile++) {
      if (grid.weight[tile] > 0) level[tile] = (1 - late) * before.level(tile) + late * after.level(tile)
    }
    return level
  }
}

function mean(values: readonly number[]): number {
  return values.reduce((a, b) => a + b, 0) / values.length
}

function round(value: number, digits: number): number {
  return Number(value.toFixed(digits))
}
