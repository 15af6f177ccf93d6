// A region that is never still: a fan, a reflection, leaves. Pieces of a mosaic were chosen for lying near what most frames
// show, and where no frame shows all of the region with nobody in front nothing else tells that they are but a guess.

import { NO_LABEL } from '../../match/labelling.js'
import { INVALID } from '../../match/log-luminance.js'
import { select } from '../../match/selection.js'
import { subsample } from '../../match/subsample.js'
import { VISIBLE_STOPS } from '../../match/thresholds.js'
import { displaySlope } from '../../match/visible-error.js'
import type { Registered } from '../register.js'
import type { Lender, LenderTable } from './lenders.js'
import type { Matrix } from './matrix.js'
import { gapBetween } from './pair-features.js'

/** Frames near the target, and of all times, that a piece is held against, and pixels on which that is done. */
const OTHER_FRAMES = 25
const LIVELY_PIXELS = 2048
/** Frames of such a list that lie so far apart in it are held against each other. */
const LATER = 4
/** A middle difference under this many spreads is grain. */
const SHOWS_SIGMA = 3
/** The middle one of the squares of normally distributed values, over their mean. */
const MIDDLE_SQUARE = 0.4549

/** What a piece is off by for that. */
export interface Lively {
  /** Over what its donor is in the whole part, mean square; 0 where it lends nothing. */
  readonly share: number
  /** By itself, display code values squared. */
  readonly visible: number
}

/**
 * A piece against its donor's whole region, both held against what other frames show there, whoever stands in them: of each
 * pixel the middle one of its squared differences, which is nothing that shows where half of the frames and more show the
 * region as it is, and what the region goes through where it is never still. Frames near the target and frames of all times
 * are asked, and of a piece the kinder answer is taken: a state may not have held elsewhere, and near the target somebody
 * may stand.
 *
 * @param partOf per place of `labels`, the part of the region; as many as `parts`
 * @returns per lender and part of the region, one part after the other
 */
export function livelyErrors(
  table: LenderTable,
  chosen: readonly Lender[],
  labels: Readonly<Uint8Array>,
  { frames, targets, parts }: Matrix,
  partOf: Readonly<Uint8Array>,
): Lively[] {
  const target = targets[targets.length >> 1]
  const isTarget = new Set(targets)
  const others = frames.filter((f) => f.held && !isTarget.has(f))
  const gap = (f: Registered) => gapBetween(target, f)
  const nearest = new Set([...others].sort((a, b) => gap(a) - gap(b)).slice(0, OTHER_FRAMES))
  const near = others.filter((f) => nearest.has(f))
  const wanted = [...labels.keys()].filter((k) => labels[k] !== NO_LABEL)
  const asked = subsample(wanted, LIVELY_PIXELS)
  const slots = chosen.flatMap(() => parts)
  const sides = [near, subsample(others, OTHER_FRAMES)].map((frames) => ({
    frames,
    squares: new Float32Array(frames.length),
    off: slots.map(() => ({ piece: 0, whole: 0 })),
  }))
  const counts = slots.map(() => ({ piece: 0, kindest: 0, visible: 0, all: 0 }))
  for (const k of asked) {
    const i = table.placeOf(k)
    for (const [l, { donor }] of chosen.entries()) {
      if (donor.validity[i] === INVALID) continue
      const slot = l * parts.length + partOf[k]
      const count = counts[slot]
      const mine = labels[k] === l
      count.all++
      if (mine) count.piece++
      const least = Math.max(VISIBLE_STOPS, SHOWS_SIGMA * table.spread[i]) ** 2
      let kindest = Number.POSITIVE_INFINITY
      for (const { frames, squares, off } of sides) {
        const square = middleOff(donor, frames, i, least, squares) / MIDDLE_SQUARE
        off[slot].whole += square
        if (!mine) continue
        off[slot].piece += square
        // Somebody who stands there on most of them is another picture, but a still one.
        const changes = square > 0 && middleChange(frames, i, least, squares) > 0
        kindest = Math.min(kindest, changes ? square : 0)
      }
      if (!mine) continue
      count.kindest += kindest
      count.visible += kindest * displaySlope(donor.aligned[i] + donor.exposure) ** 2
    }
  }
  const total = ({ off }: (typeof sides)[number]) => off.reduce((sum, { piece }) => sum + piece, 0)
  const { off } = sides.reduce((a, b) => (total(b) < total(a) ? b : a))
  const beyond = (mean: number) => Math.max(1, mean / table.grain ** 2)
  return counts.map(({ piece, kindest, visible, all }, slot) =>
    piece > 0
      ? { share: beyond(kindest / piece) / beyond(off[slot].whole / all), visible: visible / piece }
      : { share: 0, visible: 0 },
  )
}

/**
 * The middle one of some frames' squared differences from a donor at a pixel of the window, stops squared; 0 where that is
 * nothing that shows.
 *
 * @param squares room for as many
 */
function middleOff(
  donor: Registered,
  frames: readonly Registered[],
  i: number,
  least: number,
  squares: Float32Array,
): number {
  const shown = donor.aligned[i] + donor.exposure
  let n = 0
  for (const f of frames) {
    if (f === donor || f.validity[i] === INVALID) continue
    squares[n++] = (shown - f.aligned[i] - f.exposure) ** 2
  }
  const middle = n > 0 ? select(squares, n >> 1, n) : 0
  return middle > least ? middle : 0
}

/** The same of what the frames, in order, differ by among themselves. */
function middleChange(
  frames: readonly Registered[],
  i: number,
  least: number,
  squares: Float32Array,
): number {
  let n = 0
  for (let j = LATER; j < frames.length; j++) {
    const [one, two] = [frames[j - LATER], frames[j]]
    if (one.validity[i] === INVALID || two.validity[i] === INVALID) continue
    squares[n++] = (one.aligned[i] + one.exposure - two.aligned[i] - two.exposure) ** 2
  }
  const middle = n > 0 ? select(squares, n >> 1, n) : 0
  return middle > least ? middle : 0
}
