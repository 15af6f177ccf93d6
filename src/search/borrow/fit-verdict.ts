// What a moment's fit to its range comes to, with the reason in words.
import { printFrames } from '../../footage/frames.js'
import { edgesInWords, SIDES } from '../mask-edges.js'
import type { Verdict } from '../result.js'
import type { AllRound } from './all-round.js'
import { CUT_FRAMES, MIN_SEEN, OPEN_SHARE } from './cut-at.js'
import type { EdgeStep } from './edge-step.js'
import type { Fit } from './fit.js'
import type { FoundMoment } from './moments.js'
import type { AgainstLight } from './tile-light.js'

/** Less visible than this, an occluder shows in what is lifted. */
const CLEAR = 0.97
const HARDLY_LIGHT = 0.7
/** More of the region than this that no light can be, on any frame, is more than can be guessed. */
const UNLIKE_LIGHT = 0.1

/** What happens all over counts from so many stops on, from this share of the moment's own depth, and from so many times what it strays by. */
const ALL_ROUND_STOPS = 0.04
const ALL_ROUND_SHARE = 0.25
const ALL_ROUND_SIGMA = 3
/** A moment that is less deep than so many times what the picture's light strays by may be nothing but that. */
const FLICKER_TIMES = 2
/** Whatever passes and casts a shadow does so on as many frames. Set by judgement. */
const LASTING_FRAMES = 3

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
      `the range ${open.join(' and ')} of the peak: it does not cover all ${fit.momentFrames} frames of the change; ${wholeWords(fit)}`,
    )
  } else if (fit.missing.length === 0) {
    said.push(`it lasts ${fit.momentFrames} of the range's ${fit.rangeFrames} frames, unlit at both ends`)
  }
  if (m.what === 'light' && fit.visible < CLEAR) faults.push(hiddenWords(fit))
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
  if (m.what === 'light') faults.push(...allRoundWords(m, fit.allRound))
  if (m.what === 'light' && fit.momentFrames < LASTING_FRAMES)
    faults.push('it is there and gone again at once, as flicker and bands of mains light are')
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

function hiddenWords({ visible, leastVisible, unseenOfHidden }: Fit): string {
  const share = percent(1 - visible)
  return unseenOfHidden > 0.5
    ? `up to ${share} of the region is clipped or beyond the picture, on frame ${leastVisible}: how light it gets there is guessed from round about`
    : `a passer-by covers up to ${share} of the region, on frame ${leastVisible}, where the light is guessed from round about`
}

/** Which range covers all of a change, and what to do where the plate does not have it. */
function wholeWords({ unlitEnds, leaves }: Pick<Fit, 'unlitEnds' | 'leaves'>): string {
  const [first, last] = unlitEnds
  const does = `${first}-${last} does`
  if (leaves === null) return does
  const [begin, end] = leaves
  if (last - first > end - begin) return `${does}, which is more than the plate has`
  const frames = (n: number) => `${n} frame${n === 1 ? '' : 's'}`
  return first < begin
    ? `${does}, and the plate begins at ${begin}: with its peak ${frames(begin - first)} later it fits`
    : `${does}, and the plate ends at ${end}: with its peak ${frames(last - end)} earlier it fits`
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

/** Why less, or something else, may be lifted than is seen. */
function allRoundWords({ depthStops }: FoundMoment, { stops, flicker }: AllRound): string[] {
  const said: string[] = []
  if (Math.abs(stops) > Math.max(ALL_ROUND_STOPS, ALL_ROUND_SHARE * depthStops, ALL_ROUND_SIGMA * flicker))
    said.push(
      `the whole picture gets ${stops < 0 ? 'darker' : 'brighter'} by up to ${Math.abs(stops).toFixed(2)} stops meanwhile, which is not lifted: only what the surface does beyond that is`,
    )
  if (depthStops < FLICKER_TIMES * flicker)
    said.push(
      `it is hardly deeper than the picture's own flicker, ${flicker.toFixed(2)} stops from frame to frame`,
    )
  return said
}

/** What is cut off, and what it takes that it is not. */
function stepWords({ stops, target, px, sides, atFrameEnd, growPx }: EdgeStep): string {
  const edge = sides.length === SIDES.length ? 'edge on all sides' : edgesInWords(sides)
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
