// How well a moment serves the target range: what the run that lands its peak on the wanted frame does to the range, one
// formula from that to a score, and the reason in words.
import { printFrames } from '../../footage/frames.js'
import { type FrameKey, keyOf } from '../../shot/frame-key.js'
import { SIDES } from '../mask-edges.js'
import { round } from '../over-frames.js'
import type { Verdict } from '../result.js'
import type { FrameChange, Measured } from './changes.js'
import { CUT_FRAMES, cutAt, MIN_SEEN, OPEN_SHARE } from './cut-at.js'
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
  /** Least share of the region that nothing covers, over the run's frames within the moment, and the donor's frame. */
  readonly visible: number
  readonly leastVisible: number
  /** The nearest frame to the peak, beside the moment, on which something covers the surface; null: none. */
  readonly cutAt: number | null
  /** How like the wanted frame, -1 to 1; null where none was named. */
  readonly likeness: number | null
  /** Where lifting it would multiply with what no light can be; null: nowhere. */
  readonly against: AgainstLight | null
  /** Where it ends with a step; null: it is no light. */
  readonly step: EdgeStep | null
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
/** Less visible than this, an occluder shows in what is lifted. */
const CLEAR = 0.97
const HARDLY_LIGHT = 0.7
/** More of the region than this that no light can be, on any frame, is more than can be guessed. */
const UNLIKE_LIGHT = 0.1

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
): Omit<Fit, 'against' | 'step'> {
  const { changes } = measured
  const atPeak = Math.max(found.strength, 1e-9)
  const inMoment = (frame: number) => frame >= found.start && frame <= found.end
  const share = (frame: number) => Math.min(1, (found.course.get(frame) ?? 0) / atPeak)
  const missing: number[] = []
  let visible = 1
  let leastVisible = found.peak
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
    }
  }
  let known = 0
  for (let frame = found.start; frame <= found.end; frame++) known += share(frame)
  let [first, last] = [found.start, found.end]
  while (share(first) > OPEN_SHARE) first--
  while (share(last) > OPEN_SHARE) last++
  return {
    atStart: share(frames[0] + timeOffset),
    atEnd: share(frames[frames.length - 1] + timeOffset),
    missing,
    missingStrength: lacked > 0 ? lacked / (known + lacked) : 0,
    rangeFrames: frames.length,
    momentFrames: found.end - found.start + 1,
    unlitEnds: [first - timeOffset, last - timeOffset],
    visible,
    leastVisible,
    cutAt: cutAt(measured, plate, found),
    likeness: like === null ? null : likeness(measured, plate, found, like),
  }
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

export function fitVerdict(m: FoundMoment, fit: Fit): { verdict: Verdict; why: string } {
  const said: string[] = []
  const faults: string[] = []
  if (fit.against?.always) said.push(`no shadow or gleam: ${unlike(fit.against, m)}`)
  else if (m.what === 'object') {
    said.push(
      `something covers the surface on ${m.start}-${m.end}, seen best on frame ${m.peak}: no change of light`,
    )
  } else {
    said.push(
      `the light gets ${m.sign} by ${m.depthStops.toFixed(2)} stops on ${percent(m.coverage)} of the region, ${m.start}-${m.end}`,
    )
    if (m.surface !== null) said.push(surfaceWords(m.surface))
    else faults.push('the surface has no texture to tell a shadow from a thing by')
  }
  if (fit.likeness !== null) said.push(`likeness ${fit.likeness.toFixed(2)}`)
  if (fit.missing.length > 0) {
    faults.push(
      `the run leaves the plate for ${fit.missing.length} of ${fit.rangeFrames} frames, which are left out: ${printFrames(fit.missing)}`,
    )
  }
  const open = [
    fit.atStart > OPEN_SHARE ? `starts at ${percent(fit.atStart)}` : '',
    fit.atEnd > OPEN_SHARE ? `ends at ${percent(fit.atEnd)}` : '',
  ].filter((s) => s !== '')
  if (open.length > 0) {
    faults.push(
      `the range ${open.join(' and ')} of the peak: it does not cover all ${fit.momentFrames} frames of the change; ${fit.unlitEnds.join('-')} does`,
    )
  } else if (fit.missing.length === 0) {
    said.push(`it lasts ${fit.momentFrames} of the range's ${fit.rangeFrames} frames, unlit at both ends`)
  }
  if (m.what === 'light' && fit.visible < CLEAR)
    faults.push(
      `a passer-by covers up to ${percent(1 - fit.visible)} of the region, on frame ${fit.leastVisible}, where the light is guessed from round about`,
    )
  if (m.what === 'light' && fit.against !== null)
    faults.push(`${unlike(fit.against, m)}: left out, and guessed from round about`)
  const hardlyLight = isHardlyLight(m)
  if (hardlyLight)
    faults.push(
      `only ${percent(m.lightShare)} of what changes is light, the rest something in front of the surface`,
    )
  const cut = m.what === 'light' ? fit.cutAt : null
  const isTail = cut !== null && Math.abs(cut - m.peak) <= CUT_FRAMES
  if (cut !== null)
    faults.push(
      isTail
        ? `the strongest that is seen of it borders on frame ${cut}, where something covers the surface: its peak is not known`
        : `on frame ${cut} something covers the surface and cuts it off`,
    )
  if (fit.step !== null && fit.step.stops > 0) faults.push(stepWords(fit.step))
  const verdict: Verdict =
    m.what === 'object' ||
    hardlyLight ||
    isTail ||
    // Nothing tells shadow from bodywork there, and bodywork is what has been seen.
    (m.surface === null && fit.visible < MIN_SEEN) ||
    fit.missingStrength > 0.5 ||
    (fit.against?.share ?? 0) > UNLIKE_LIGHT
      ? 'will not hold'
      : faults.length > 0
        ? 'needs work'
        : 'holds up'
  // Where room is short the reason is what is left.
  const why = m.what === 'light' ? [...faults, ...said] : [...said, ...faults]
  return { verdict, why: why.join('; ') }
}

/** Words only. Under soft shadows on a coded road, whose texture is faint, the very same surface came to 0.14 to 0.23. */
const TOLD_SURFACE = 0.5

/** No verdict hangs on the correlation at the peak: what hides a surface is told over all its frames, against its error. */
function surfaceWords(correlation: number): string {
  const at = correlation.toFixed(2)
  return correlation < TOLD_SURFACE
    ? `the texture under it correlates at only ${at}, as a faint one does under grain and coding: it is not judged by that`
    : `the surface under it correlates at ${at}`
}

/** A shadow with something in it that is as large: who would tell the one's dark from the other's? */
export function isHardlyLight({ what, lightShare }: Pick<FoundMoment, 'what' | 'lightShare'>): boolean {
  return what === 'light' && lightShare < HARDLY_LIGHT
}

function unlike({ frame, share, low, high }: AgainstLight, { sign }: FoundMoment): string {
  return `on frame ${frame} it would multiply ${percent(share)} of the region by what light can't be, factors ${low.toFixed(2)} to ${high.toFixed(2)} where it gets ${sign}`
}

/** What is cut off, and what it takes that it is not. */
function stepWords({ stops, target, px, sides, atFrameEnd, growPx }: EdgeStep): string {
  const named = `${sides.slice(0, -1).join(', ')}${sides.length > 1 ? ' and ' : ''}${sides[sides.length - 1]}`
  const edge =
    sides.length === SIDES.length ? 'edge on all sides' : `${named} edge${sides.length > 1 ? 's' : ''}`
  const by = `by up to ${stops.toFixed(2)} stops over ${px} px on target frame ${target}`
  if (atFrameEnd)
    return `the donor's frame ends before the mask's ${edge} and cuts the light off, ${by}: use another 2D offset, or a smaller mask`
  const remedy =
    growPx === null
      ? 'until it holds all of the change, or feather the patch'
      : `by ${growPx} px, or feather the patch by as much`
  return `the light runs on across the mask's ${edge} and is cut off there, ${by}: grow the mask ${remedy}`
}

function percent(share: number): string {
  return `${Math.round(100 * share)} %`
}
