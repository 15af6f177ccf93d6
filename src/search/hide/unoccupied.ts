// On which frames nobody passes the region: those that show what most of the plate does, that stand still for a while, or that
// are seen in another light again and again.

import { VALID } from '../../match/log-luminance.js'
import { select } from '../../match/selection.js'
import { subsample } from '../../match/subsample.js'
import { CLEAN_SHARE } from '../../match/thresholds.js'
import type { Steps } from '../../turns.js'
import type { RegionView } from './region-view.js'
import { APART_SHARE, HeldPicture, OTHER_SIGMA, shareOf } from './shown-share.js'

/** Frames before and after one that tell whether its region stands still, and how many of them must show the same. */
const MOMENTS_APART = [-8, -4, 4, 8]
const ALIKE = 2
/** A light that is seen at so many other times as well is the region's own: a lamp goes out, and again. Times that are looked at. */
const OTHER_TIMES = 2
const TIMES_TOLD = 16
/**
 * Light changes evenly from pixel to pixel. Somebody's texture jumps between more neighbours than the first share of those that
 * changed, and his outline between more than the second of those of which one did.
 */
const MAX_JUMPS = { within: 0.05, along: 0.2 }
/** A moment later, frames: codecs and telecines repeat one. Pairs of frames that tell how a pixel changes by itself. */
const MOMENT_FRAMES = 2
const CHANGE_PAIRS = 65
/** The middle one of the differences of two normally distributed values, over the deviation of one. */
const MIDDLE_OF_DIFFERENCE = 0.954
/** From this share on not even the tip of a shoe stands in the region. */
const WHOLE_SHARE = 0.998

/**
 * Per frame of a view, above 0 where nobody passes: its region shows what it shows over most of the plate, stands still for a
 * while, or is seen in the same other light again and again. 2 where it does to the last corner. Of a part a pixel may differ by its own
 * change, too.
 *
 * @param usual   what counts as shown over most of the plate, on the pixels that the view compares
 * @param moments false: by that alone, since a moment is told by frames whose whole region is seen
 */
export function* unoccupiedFrames(
  view: RegionView,
  usual: Readonly<Float32Array> = view.usual,
  moments = true,
): Steps<Uint8Array, never> {
  const { frames } = view
  const change = view.part === null ? undefined : ownChange(view)
  const out = new Uint8Array(frames.length)
  const shares = new Float64Array(frames.length)
  const shown = new HeldPicture(usual)
  for (let i = 0; i < frames.length; i++) {
    yield
    shares[i] = shareOf(view, i, shown, change)
    out[i] = gradeOf(shares[i])
  }
  if (!moments) return out
  const pictures = new Map<number, HeldPicture>()
  const alike = (frame: number, others: readonly number[], least: number): number => {
    const found = others.map((o) => {
      const picture = pictures.get(o) ?? new HeldPicture(view.samplesOf(o).aligned)
      pictures.set(o, picture)
      return shareOf(view, frame, picture)
    })
    return gradeOf(found.sort((a, b) => b - a)[least - 1] ?? 0)
  }
  const cleanPlate = new HeldPicture(view.registration.cleanPlate.level)
  const byPlate = new Map<number, number[]>()
  for (const [i, { plate }] of frames.entries())
    if (view.shows(i)) byPlate.set(plate, [...(byPlate.get(plate) ?? []), i])
  for (const seen of byPlate.values()) {
    for (const [at, i] of seen.entries()) {
      yield
      if (out[i] === 2) continue
      // A slow walker's middle looks as still as a wall for a while; his edges do not.
      const others = MOMENTS_APART.flatMap((apart) => seen[at + apart] ?? [])
      out[i] = Math.max(out[i], alike(i, others, ALIKE))
    }
    const times = stretchesOf(seen, (i) => out[i] === 0 && shares[i] < 1 - APART_SHARE)
    const told = subsample(times.map(middleOf), TIMES_TOLD)
    for (const stretch of times) {
      const others = told.filter((o) => o !== middleOf(stretch))
      for (const i of stretch) {
        yield
        const grade = alike(i, others, OTHER_TIMES)
        if (grade > 0 && isLight(view, i, cleanPlate)) out[i] = grade
      }
    }
  }
  return out
}

function gradeOf(share: number): number {
  return share >= WHOLE_SHARE ? 2 : share >= CLEAN_SHARE ? 1 : 0
}

/** Frames that follow each other and are all `such`. @param seen in order */
function stretchesOf(seen: readonly number[], such: (i: number) => boolean): number[][] {
  const stretches: number[][] = []
  let last = -2
  for (const [at, i] of seen.entries()) {
    if (!such(i)) continue
    if (at === last + 1) stretches[stretches.length - 1].push(i)
    else stretches.push([i])
    last = at
  }
  return stretches
}

function middleOf(stretch: readonly number[]): number {
  return stretch[stretch.length >> 1]
}

/**
 * Does what sets a frame's region apart from the clean plate change evenly from pixel to pixel, to the right and down? Not told
 * where it ends nowhere in the region.
 *
 * @param cleanPlate over the window
 */
function isLight(
  { mask, frames, registration: { window }, spread }: RegionView,
  frame: number,
  cleanPlate: HeldPicture,
): boolean {
  const { aligned, validity, exposure } = frames[frame]
  const { inside } = mask
  // A jump has the grain of both its pixels.
  const isOther = (stops: number, i: number) => cleanPlate.differs(stops, i, Math.SQRT2 * spread[i])
  const off = (i: number) => aligned[i] + exposure - cleanPlate.level[i]
  // 1: as the clean plate, 2: other than it, 0: it is not told.
  const marks = new Uint8Array(inside.length)
  for (let i = 0; i < marks.length; i++)
    if (inside[i] > 0 && validity[i] === VALID) marks[i] = isOther(off(i), i) ? 2 : 1
  const within = { pairs: 0, jumps: 0 }
  const along = { pairs: 0, jumps: 0 }
  const compare = (i: number, beside: number) => {
    if (marks[beside] === 0 || (marks[i] === 1 && marks[beside] === 1)) return
    const which = marks[i] === marks[beside] ? within : along
    which.pairs++
    if (isOther(off(i) - off(beside), i)) which.jumps++
  }
  for (let i = 0; i + window.w < inside.length; i++) {
    if (marks[i] === 0) continue
    compare(i, i + 1)
    compare(i, i + window.w)
  }
  return (
    along.pairs > 0 &&
    along.jumps <= MAX_JUMPS.along * along.pairs &&
    within.jumps <= MAX_JUMPS.within * within.pairs
  )
}

/**
 * Per pixel that a view compares, how far it may lie from a picture by itself where it is never still, stops: a fan, a screen,
 * water. 0 where it shows the same a moment later more often than not: whoever stands or passes in front for less than half of
 * the time leaves it so.
 */
export function ownChange(view: RegionView): Float32Array {
  const { frames } = view
  const apart = frames.flatMap((a, i) => {
    const b = frames[i + MOMENT_FRAMES]
    const next = b !== undefined && b.plate === a.plate && b.frame === a.frame + MOMENT_FRAMES
    return next && a.held && b.held ? [[view.samplesOf(i), view.samplesOf(i + MOMENT_FRAMES)] as const] : []
  })
  const pairs = subsample(apart, CHANGE_PAIRS)
  const off = new Float32Array(pairs.length)
  const usual = new HeldPicture(view.usual)
  return view.usual.map((_, k) => {
    let n = 0
    for (const [one, two] of pairs) {
      if (one.validity[k] !== VALID || two.validity[k] !== VALID) continue
      off[n++] = Math.abs(one.aligned[k] - two.aligned[k])
    }
    const middle = n > 0 ? select(off, n >> 1, n) : 0
    return usual.differs(middle, k, view.grain[k]) ? (OTHER_SIGMA * middle) / MIDDLE_OF_DIFFERENCE : 0
  })
}
