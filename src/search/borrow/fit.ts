// How well a moment serves the target range: what the run that lands its peak on the wanted frame does to the range, and one
// formula from that to a score.

import { type FrameKey, keyOf } from '../../shot/frame-key.js'
import { round } from '../over-frames.js'
import type { AllRound } from './all-round.js'
import type { FrameChange, Measured } from './changes.js'
import { cutAt, OPEN_SHARE } from './cut-at.js'
import type { EdgeStep } from './edge-step.js'
import type { FoundMoment } from './moments.js'
import type { AgainstLight } from './tile-light.js'

/** What the run that lands a moment's peak on the wanted frame does to the range. */
export interface Fit {
  /** Share of the peak's strength that is there already on the range's first frame, and still on its last. */
  readonly atStart: number
  readonly atEnd: number
  /** Target frames, ascending, for which the donor plate has no frame, or none that may lend. */
  readonly missing: readonly number[]
  /** The share of the moment's strength that would fall on those. */
  readonly missingStrength: number
  /** Length of the range and of the moment, frames. */
  readonly rangeFrames: number
  readonly momentFrames: number
  /** The shortest range round the moment that begins and ends unlit, in target frames, whether the plate has them or not. */
  readonly unlitEnds: readonly [first: number, last: number]
  /** The target plate's first and last frame, as far as that range may leave it; null: it does not. */
  readonly leaves: readonly [first: number, last: number] | null
  /** Least share of the region that nothing covers, over the run's frames within the moment, and the donor's frame. */
  readonly visible: number
  readonly leastVisible: number
  /** Of what can't be seen there, the share that is clipped or beyond the picture, and covered by nobody. */
  readonly unseenOfHidden: number
  /** The nearest frame to the peak, beside the moment, on which something covers the surface; null: none. */
  readonly cutAt: number | null
  /** How like the wanted frame, -1 to 1; null where none was named. */
  readonly likeness: number | null
  /** Where lifting it would multiply with what no light can be; null: nowhere. */
  readonly against: AgainstLight | null
  /** Where it ends with a step; null: it is no light. */
  readonly step: EdgeStep | null
  /** What the whole picture's light does meanwhile. */
  readonly allRound: AllRound
}

/** Score lost per unit of each fault, as exponents. */
const PRICE = {
  notLight: 1.5,
  covered: 0.5,
  open: 0.2,
  missing: 0.3,
  missingStrength: 2,
  faint: 2,
  unlike: 4,
  cutOff: 0.2,
}
/** Mean stops over the region below which a change is faint: that much is a shadow of 0.3 stops on a quarter of it. */
const FAINT_STOPS = 0.08
/** What covers the surface never reaches the least score of a change of light. */
const MIN_LIGHT = 30
const MAX_OBJECT = 25

/**
 * @param frames target frames of the range, ascending
 * @param like   the frame that was named as what is wanted, or null
 * @param mayLend whether a frame is among those that may lend
 * @param isUnread whether a frame is not read yet, and so neither missing nor covered
 */
export function fitOf(
  measured: Pick<Measured, 'changes' | 'grid' | 'reference'>,
  {
    frames,
    like,
    mayLend,
    isUnread = () => false,
  }: {
    readonly frames: readonly number[]
    readonly like: FrameKey | null
    readonly mayLend: (frame: FrameKey) => boolean
    readonly isUnread?: (frame: FrameKey) => boolean
  },
  plate: number,
  found: FoundMoment,
  timeOffset: number,
): Omit<Fit, 'against' | 'step' | 'allRound'> {
  const { changes } = measured
  const atPeak = Math.max(found.strength, 1e-9)
  const inMoment = (frame: number) => frame >= found.start && frame <= found.end
  const share = (frame: number) => Math.min(1, (found.course.get(frame) ?? 0) / atPeak)
  const missing: number[] = []
  let visible = 1
  let leastVisible = found.peak
  let unseenOfHidden = 0
  let lacked = 0
  for (const target of frames) {
    const frame = target + timeOffset
    const donor = { plate, frame }
    const change = mayLend(donor) ? changes.get(keyOf(donor)) : undefined
    if (change === undefined) {
      if (mayLend(donor) && isUnread(donor)) continue
      missing.push(target)
      lacked += lackedStrength(found, frame) / atPeak
    } else if (inMoment(frame) && change.visible < visible) {
      visible = change.visible
      leastVisible = frame
      unseenOfHidden = change.unseen / (1 - visible)
    }
  }
  let known = 0
  for (let frame = found.start; frame <= found.end; frame++) known += share(frame)
  let [first, last] = [found.start, found.end]
  while (share(first) > OPEN_SHARE) first--
  while (share(last) > OPEN_SHARE) last++
  const unlitEnds = [first - timeOffset, last - timeOffset] as const
  return {
    atStart: share(frames[0] + timeOffset),
    atEnd: share(frames[frames.length - 1] + timeOffset),
    missing,
    missingStrength: lacked > 0 ? lacked / (known + lacked) : 0,
    rangeFrames: frames.length,
    momentFrames: found.end - found.start + 1,
    unlitEnds,
    leaves: leftBy(unlitEnds, changes, isUnread),
    visible,
    leastVisible,
    unseenOfHidden,
    cutAt: cutAt(measured, plate, found),
    likeness: like === null ? null : likeness(measured, plate, found, like),
  }
}

/** The target plate's ends, where a range leaves them. */
function leftBy(
  [first, last]: Fit['unlitEnds'],
  changes: Measured['changes'],
  isUnread: (frame: FrameKey) => boolean,
): Fit['leaves'] {
  const own = [...changes].flatMap(([key, { frame }]) => (key === keyOf({ plate: 0, frame }) ? [frame] : []))
  const [begin, end] = [Math.min(...own), Math.max(...own)]
  const isOutside = (frame: number) => (frame < begin || frame > end) && !isUnread({ plate: 0, frame })
  return isOutside(first) || isOutside(last) ? [begin, end] : null
}

/**
 * What the change may have been on a frame that the plate lacks, stops: between two frames in proportion of time; beyond
 * the plate's end it is taken to have faded as it rose, and never to have been stronger than on the last frame there is.
 */
function lackedStrength({ course, start, peak, end }: FoundMoment, frame: number): number {
  const at = (f: number, step: -1 | 1) => {
    while (f >= start && f <= end && !course.has(f)) f += step
    return f
  }
  if (frame < start || frame > end) {
    const last = course.get(frame < start ? start : end) ?? 0
    return Math.min(last, course.get(2 * peak - frame) ?? 0)
  }
  const [a, b] = [at(frame, -1), at(frame, 1)]
  const before = course.get(a) ?? 0
  const after = course.get(b) ?? 0
  return before + ((after - before) * (frame - a)) / Math.max(1, b - a)
}

/** How like the wanted frame's change the moment is where it is most like it. */
function likeness(
  measured: Pick<Measured, 'changes' | 'grid' | 'reference'>,
  plate: number,
  found: FoundMoment,
  like: FrameKey,
): number {
  const { changes } = measured
  const wanted = changes.get(keyOf(like))
  if (!wanted) return 0
  let best = -1
  for (let frame = found.start; frame <= found.end; frame++) {
    const f = changes.get(keyOf({ plate, frame }))
    if (f) best = Math.max(best, alike(wanted, f, measured))
  }
  return round(best, 4)
}

/** 1 - |a - b|^2 / (|a|^2 + |b|^2) over the region's tiles that both frames show: 1 the same, 0 or less nothing alike. */
function alike(
  a: FrameChange,
  b: FrameChange,
  { grid, reference }: Pick<Measured, 'grid' | 'reference'>,
): number {
  let difference = 0
  let size = 0
  for (let tile = 0; tile < grid.weight.length; tile++) {
    const w = grid.weight[tile]
    if (w === 0 || a.tiles.pixels[tile] === 0 || b.tiles.pixels[tile] === 0) continue
    const p = a.tiles.change[tile] - reference.change[tile]
    const q = b.tiles.change[tile] - reference.change[tile]
    difference += w * (p - q) ** 2
    size += w * (p * p + q * q)
  }
  return size > 0 ? 1 - difference / size : 0
}

/**
 * 0 to 100. A change of light has 30 + 70 exp(-(1.5 (1 - light share) + 0.5 (1 - visible) + 0.2 (start + end) +
 * 0.3 missing + 2 missing strength + 2 exp(-strength / 0.08) + 4 (1 - likeness) + 0.2 (step / depth)), an occluder 25 exp of the same, so that
 * every occluder lies below every change of light.
 */
export function fitScore(m: FoundMoment, fit: Fit): number {
  const lost =
    PRICE.notLight * (1 - m.lightShare) +
    PRICE.covered * (1 - fit.visible) +
    PRICE.open * (fit.atStart + fit.atEnd) +
    PRICE.missing * (fit.missing.length / fit.rangeFrames) +
    PRICE.missingStrength * fit.missingStrength +
    PRICE.faint * Math.exp(-m.strength / FAINT_STOPS) +
    (fit.likeness === null ? 0 : PRICE.unlike * (1 - fit.likeness)) +
    PRICE.cutOff * Math.min(1, (fit.step?.stops ?? 0) / Math.max(m.depthStops, 1e-9))
  const share = Math.exp(-lost)
  const score = m.what === 'light' ? MIN_LIGHT + (100 - MIN_LIGHT) * share : MAX_OBJECT * share
  return Math.round(10 * score) / 10
}
