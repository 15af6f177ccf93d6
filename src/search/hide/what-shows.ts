// Faults of a candidate as what will be seen of them, where and on which frame: measured on the pixels again, so only for
// the few candidates that are kept.

import type { Workspace } from '../../kernels/workspace.js'
import { VALID } from '../../match/log-luminance.js'
import { boundsOf } from '../../raster/rect.js'
import { shiftOf } from '../../raster/transform.js'
import { type Region, type RegionFrame, support } from '../../region/region.js'
import type { Steps } from '../../turns.js'
import { edgesInWords } from '../mask-edges.js'
import { type Draft, leadOf } from '../measure.js'
import { limitsOf, percent } from '../measures.js'
import { unpackPieces } from '../piece-map.js'
import type { Registered } from '../register.js'
import type { Candidate, FrameMatch } from '../result.js'
import type { Seen } from '../score.js'
import { type Compared, subtractLent, takeMeanOff } from './along-border.js'
import { type Border, borderOf } from './beside-mask.js'
import { type BorderDifference, borderDifference, lightStep } from './border-difference.js'
import type { Known } from './known.js'
import type { Matrix } from './matrix.js'

/** From this share on of what differs in one third of the region, across or down, it is said to be there. */
const IN_ONE_THIRD = 0.6
/** Frames whose numbers lie within this share of each other are none worse than another. */
const ALIKE = 0.1
/** Where less of the surround than this is other than usual, no edge of the mask lies in another light. */
const BESET_SHARE = 0.02

/** The measures whose faults lie somewhere. */
type Located = 'ncc' | 'seam' | 'clean'

/** A candidate with the draft it was measured from. */
export interface Drafted {
  readonly candidate: Candidate
  readonly draft: Draft
}

/** A target frame on which the light steps at the border of the mask, by its place in the range. */
interface Step {
  readonly t: number
  readonly difference: BorderDifference
}

/** Finds words for the candidates of one search. */
export class WhatShows {
  /** Of the mask that was looked at last: a still one serves all frames. */
  #border: { readonly mask: RegionFrame; readonly border: Border | null } | undefined
  /** Of the target that was looked at last: all candidates are compared with one after the other. */
  #places: { readonly target: Registered; readonly places: Int32Array } | undefined

  constructor(
    readonly workspace: Workspace,
    readonly region: Region,
    readonly known: Known,
    readonly matrix: Matrix,
  ) {}

  /** Per candidate, words for those of its faults that can be pointed at. */
  *of(drafted: readonly Drafted[]): Steps<Seen[]> {
    const steps = yield* this.#steps(drafted.map(({ draft }) => draft))
    const seen: Seen[] = []
    for (const [i, { candidate, draft }] of drafted.entries()) {
      yield
      seen.push(this.#seenOf(candidate, draft, steps[i]))
    }
    return seen
  }

  #seenOf(candidate: Candidate, draft: Draft, steps: readonly Step[]): Seen {
    const { ncc } = candidate
    const seen: { -readonly [K in keyof Seen]: Seen[K] } = {}
    if (beyond('seam', candidate)) seen.seam = this.#alongBorder(candidate, draft, 'seam')
    else if (steps.length > 0) seen.step = stepWords(candidate, steps)
    if (beyond('ncc', candidate)) {
      // Within the grain nothing will be seen: then it is contrast that correlation lacks.
      seen.ncc = beyond('seam', candidate)
        ? this.#alongBorder(candidate, draft, 'ncc')
        : `what surrounds the region is too plain to tell a fit by: it correlates at only ${ncc!.toFixed(2)}`
    }
    if (beyond('clean', candidate) && draft.mosaic === undefined)
      seen.clean = this.#inRegion(candidate, draft)
    return seen
  }

  #alongBorder(candidate: Candidate, draft: Draft, key: 'seam' | 'ncc'): string | undefined {
    const { frames } = candidate
    const t = worstOf(frames, key)
    if (t === null) return undefined
    const { mosaic } = draft
    if (mosaic && key === 'seam' && frames[t].seam! <= Number(mosaic.seam.toFixed(3)))
      return 'a seam shows where its pieces meet'
    const compared = this.#compare(t, draft)
    const difference =
      compared && borderDifference(compared.border, compared.difference, compared.variance, compared.steady)
    return difference ? alongBorder(difference, onFrame(frames, key, t)) : undefined
  }

  /**
   * Per draft, where the light steps by more than what passes for steady. A seam is measured where nobody passes in the
   * target, so it knows nothing of a shadow that lies along the edge of the mask.
   */
  *#steps(drafts: readonly Draft[]): Steps<Step[][]> {
    const { targets } = this.matrix
    const found: Step[][] = drafts.map(() => [])
    for (let t = 0; t < targets.length; t++) {
      yield
      if (!this.#isBeset(targets[t])) continue
      for (const [d, draft] of drafts.entries()) {
        const compared = this.#compare(t, draft)
        const difference =
          compared && lightStep(compared.border, compared.difference, compared.variance, compared.steady)
        if (difference) found[d].push({ t, difference })
      }
    }
    return found
  }

  /** Whether anything on a target frame's surround is other than what it shows as a rule. */
  #isBeset(target: Registered): boolean {
    const { surround } = this.region.frames.get(target.frame)!
    const steady = this.matrix.steady.get(target)!
    let beset = 0
    let all = 0
    for (let i = 0; i < surround.length; i++) {
      if (surround[i] === 0) continue
      all++
      if (steady[i] === 0) beset++
    }
    return beset > BESET_SHARE * all
  }

  /** The target against the donor with its light matched, on the border of the target's mask; null where there is none. */
  #compare(t: number, { shares, mosaic }: Draft): Compared | null {
    const { matrix, known } = this
    const target = matrix.targets[t]
    const border = this.#borderOf(target)
    if (border === null) return null
    const places = this.#placesOf(t, border)
    const difference = new Float32Array(places.length).fill(Number.NaN)
    const variance = new Float32Array(places.length)
    const steady = new Uint8Array(places.length)
    const compared = { border, difference, variance, steady }
    const own = { target, steady: matrix.steady.get(target)!, places }
    // A stack's numbers are those of the donor that leads.
    const lenders = mosaic ? shares[t] : [leadOf(shares[t])]
    const pieces = mosaic ? this.#piecesAt(mosaic.map, target, border) : null
    for (const [piece, { column }] of lenders.entries()) {
      const donor = matrix.donors[column]
      const lent = { donor, steady: matrix.steady.get(donor)!, pieces, piece }
      subtractLent(compared, own, lent, known.spread)
    }
    return takeMeanOff(difference, steady) ? compared : null
  }

  /**
   * Per pixel of the border of a target's mask, where it lies on the grid; -1 where that is beyond the window, or nothing is seen
   * there in the target.
   */
  #placesOf(t: number, { pixels }: Border): Int32Array {
    const target = this.matrix.targets[t]
    if (this.#places?.target === target) return this.#places.places
    const { w, h } = this.known.registration.window
    const { dx, dy } = shiftOf(target.pose, this.known.registration.window)
    const [right, down] = [Math.round(dx), Math.round(dy)]
    const good = target.shown ?? target.validity
    const places = new Int32Array(pixels.length)
    for (let k = 0; k < pixels.length; k++) {
      const x = (pixels[k] % w) + right
      const y = Math.floor(pixels[k] / w) + down
      const i = x < 0 || y < 0 || x >= w || y >= h ? -1 : y * w + x
      places[k] = i >= 0 && good[i] === VALID ? i : -1
    }
    this.#places = { target, places }
    return places
  }

  /** Per pixel of the border, which of a mosaic's pieces lends it; what lies off its map is lent by none: -1. */
  #piecesAt(
    map: NonNullable<Draft['mosaic']>['map'],
    target: Registered,
    { nearest }: Border,
  ): Readonly<Int32Array> {
    const labels = unpackPieces(map)
    const { window } = this.known.registration
    const [left, top, w, h] = map.box
    const { dx, dy } = shiftOf(target.pose, window)
    const moved = Math.round(dy) * window.w + Math.round(dx)
    return Int32Array.from(nearest, (pixel) => {
      const i = pixel + moved
      const x = (i % window.w) + window.x - left
      const y = Math.floor(i / window.w) + window.y - top
      return x < 0 || y < 0 || x >= w || y >= h ? -1 : labels[y * w + x]
    })
  }

  /** Of a target frame's mask, where it lies in the frame itself. */
  #borderOf(target: Registered): Border | null {
    const mask = this.region.frames.get(target.frame)!
    if (this.#border?.mask !== mask) {
      const covered = support(mask.inside)
      const { w } = this.known.registration.window
      this.#border = { mask, border: borderOf(covered, w, this.region.surroundPx) }
    }
    return this.#border.border
  }

  /** Where in the region the donor is not empty, on the frame on which it is least so. */
  #inRegion({ frames }: Candidate, { shares }: Draft): string | undefined {
    const t = worstOf(frames, 'clean')
    if (t === null) return undefined
    const target = this.matrix.targets[t]
    const mask = this.region.frames.get(target.frame)!
    const dirty = this.matrix.dirt(leadOf(shares[t]).column, mask)
    const share = 1 - frames[t].clean!
    const on = onFrame(frames, 'clean', t)
    const where = placeIn(mask.inside, dirty, this.known.registration.window.w)
    return `${percent(share)} of the region${where && `, ${where},`} is not empty in the donor${on}`
  }
}

function beyond(key: Located, m: Pick<FrameMatch, Located>): boolean {
  const value = m[key]
  const [low, high] = limitsOf(key, m).holds
  return value !== null && (value < low || value > high)
}

/** The frame on which a measure is worst; null where no frame has it. */
function worstOf(frames: readonly FrameMatch[], key: Located): number | null {
  const bad = (t: number) => (key === 'seam' ? frames[t].seam! : -frames[t][key]!)
  let worst: number | null = null
  for (let t = 0; t < frames.length; t++)
    if (frames[t][key] !== null && (worst === null || bad(t) > bad(worst))) worst = t
  return worst
}

/** " on 1083" where it is the only one at fault, " worst on 1083" where it stands out; else nothing. */
function onFrame(frames: readonly FrameMatch[], key: Located, worst: number): string {
  if (frames.length === 1) return ''
  const target = frames[worst].target
  if (frames.filter((f) => beyond(key, f)).length <= 1) return ` on ${target}`
  const values = frames.flatMap((f) => f[key] ?? [])
  const faults = values.map((v) => (key === 'seam' ? v : 1 - v))
  return Math.min(...faults) >= (1 - ALIKE) * Math.max(...faults) ? '' : `, worst on ${target}`
}

function stepWords({ frames }: Candidate, steps: readonly Step[]): string {
  const size = ({ difference }: Step) => Math.abs(difference.stops)
  const worst = steps.reduce((a, b) => (size(b) > size(a) ? b : a))
  const { target } = frames[worst.t]
  const on = frames.length === 1 ? '' : steps.length === 1 ? ` on ${target}` : `, worst on ${target}`
  return alongBorder(worst.difference, on)
}

function alongBorder({ what, sides, corner, stops }: BorderDifference, on: string): string {
  const where =
    sides.length === 4
      ? 'all round the region'
      : corner
        ? `at the ${corner.join(' ')}`
        : `along the ${edgesInWords(sides)}`
  if (what === 'detail') return `detail differs ${where}${on}`
  const by = `${Math.abs(stops).toFixed(2)} stops ${stops > 0 ? 'darker' : 'brighter'} inside`
  return `a step in the light ${where}${on}, ${by}`
}

/** "at the lower left": the thirds of the region, across and down, in which nearly all of what is marked lies. */
function placeIn(inside: Readonly<Float32Array>, marks: Readonly<Uint8Array>, width: number): string {
  const box = boundsOf(inside, width)
  if (box === null) return ''
  const across = [0, 0, 0]
  const down = [0, 0, 0]
  let all = 0
  for (let i = 0; i < inside.length; i++) {
    if (marks[i] === 0 || inside[i] === 0) continue
    const x = i % width
    const y = (i - x) / width
    across[Math.floor((3 * (x - box.x)) / box.w)] += inside[i]
    down[Math.floor((3 * (y - box.y)) / box.h)] += inside[i]
    all += inside[i]
  }
  if (all === 0) return ''
  const third = (sums: readonly number[]) => sums.findIndex((sum) => sum >= IN_ONE_THIRD * all)
  const [column, row] = [third(across), third(down)]
  if (column === 1 && row === 1) return 'in the middle'
  const words = [['upper', '', 'lower'][row], ['left', '', 'right'][column]].filter((word) => word)
  if (words.length === 2) return `at the ${words.join(' ')}`
  const [word] = words
  if (word === undefined) return ''
  return word === 'upper' ? 'at the top' : word === 'lower' ? 'at the bottom' : `on the ${word}`
}
