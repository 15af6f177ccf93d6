// Faults of a candidate as what will be seen of them, where and on which frame: measured on the pixels again, so only for
// the few candidates that are kept.

import type { Workspace } from '../../kernels/workspace.js'
import { cleanShare, markDirty } from '../../match/clean.js'
import { boundsOf } from '../../raster/rect.js'
import type { Region } from '../../region/region.js'
import type { Steps } from '../../turns.js'
import type { Draft } from '../measure.js'
import { LIMITS, percent } from '../measures.js'
import { unpackPieces } from '../piece-map.js'
import type { Registered } from '../register.js'
import type { Candidate, FrameMatch } from '../result.js'
import type { Seen } from '../score.js'
import { type Border, borderOf } from './beside-mask.js'
import { type BorderDifference, borderDifference } from './border-difference.js'
import type { Known } from './known.js'
import { maskOnGrid } from './mask-on-grid.js'
import type { Matrix } from './matrix.js'

/** From this share on of what differs in one third of the region, across or down, it is said to be there. */
const IN_ONE_THIRD = 0.6
/** Frames whose numbers lie within this share of each other are none worse than another. */
const ALIKE = 0.1

/** The measures whose faults lie somewhere. */
type Located = keyof Seen

/** Finds words for the candidates of one search. */
export class WhatShows {
  readonly #borders = new Map<Registered, Border | null>()

  constructor(
    readonly workspace: Workspace,
    readonly region: Region,
    readonly known: Known,
    readonly matrix: Matrix,
  ) {}

  /** Words for those of a candidate's faults that can be pointed at. */
  *of(candidate: Candidate, draft: Draft): Steps<Seen> {
    const { seam, ncc, clean } = candidate
    const seen: { -readonly [K in keyof Seen]: Seen[K] } = {}
    if (beyond('seam', seam)) {
      yield
      seen.seam = this.#alongBorder(candidate, draft, 'seam')
    }
    if (beyond('ncc', ncc)) {
      yield
      // Within the grain nothing will be seen: then it is contrast that correlation lacks.
      seen.ncc = beyond('seam', seam)
        ? this.#alongBorder(candidate, draft, 'ncc')
        : `what surrounds the region is too plain to tell a fit by: it correlates at only ${ncc!.toFixed(2)}`
    }
    if (beyond('clean', clean) && draft.mosaic === undefined) {
      yield
      seen.clean = this.#inRegion(candidate, draft)
    }
    return seen
  }

  #alongBorder(candidate: Candidate, draft: Draft, key: 'seam' | 'ncc'): string | undefined {
    const { frames } = candidate
    const t = worstOf(frames, key)
    if (t === null) return undefined
    const { mosaic } = draft
    if (mosaic && key === 'seam' && frames[t].seam! <= Number(mosaic.seam.toFixed(3)))
      return 'a seam shows where its pieces meet'
    const difference = this.#differenceOf(t, draft)
    return difference === null ? undefined : alongBorder(difference, onFrame(frames, key, t))
  }

  /** The target against the donor with its light matched, on the border of the target's mask. */
  #differenceOf(t: number, { shares, mosaic }: Draft): BorderDifference | null {
    const { matrix, known } = this
    const target = matrix.targets[t]
    const border = this.#borderOf(target)
    if (border === null) return null
    const { pixels } = border
    const difference = new Float32Array(pixels.length).fill(Number.NaN)
    const variance = new Float32Array(pixels.length)
    const steady = matrix.steady.get(target)!
    // A stack's numbers are those of the donor that leads.
    const lenders = (mosaic ? shares[t] : [leadOf(shares[t])]).map(({ column }) => {
      const donor = matrix.donors[column]
      return { donor, steady: matrix.steady.get(donor)! }
    })
    const pieceAt = mosaic ? this.#pieceAt(mosaic.map) : () => 0
    let sum = 0
    let n = 0
    for (let k = 0; k < pixels.length; k++) {
      const i = pixels[k]
      const lender = lenders[pieceAt(border.nearest[k])]
      if (steady[i] === 0 || lender === undefined || lender.steady[i] === 0) continue
      const lent = lender.donor.aligned[i] + lender.donor.exposure
      difference[k] = target.aligned[i] + target.exposure - lent
      variance[k] = 2 * known.spread[i] ** 2
      sum += difference[k]
      n++
    }
    if (n === 0) return null
    for (let k = 0; k < difference.length; k++) difference[k] -= sum / n
    return borderDifference(border, difference, variance)
  }

  /** Which of a mosaic's pieces lends a pixel of the window; what lies off its map is lent by none. */
  #pieceAt(map: NonNullable<Draft['mosaic']>['map']): (i: number) => number {
    const labels = unpackPieces(map)
    const { window } = this.known.registration
    const [left, top, w, h] = map.box
    return (i) => {
      const x = (i % window.w) + window.x - left
      const y = Math.floor(i / window.w) + window.y - top
      return x < 0 || y < 0 || x >= w || y >= h ? -1 : labels[y * w + x]
    }
  }

  #borderOf(target: Registered): Border | null {
    let border = this.#borders.get(target)
    if (border === undefined) {
      const { window } = this.known.registration
      border = borderOf(this.#maskOf(target), window.w, this.region.surroundPx)
      this.#borders.set(target, border)
    }
    return border
  }

  #maskOf(target: Registered): Uint8Array {
    const { inside } = this.region.frames.get(target.frame)!
    return maskOnGrid(inside, target, this.known.registration.window)
  }

  /** Where in the region the donor is not empty, on the frame on which it is least so. */
  #inRegion({ frames }: Candidate, { shares }: Draft): string | undefined {
    const t = worstOf(frames, 'clean')
    if (t === null) return undefined
    const { registration, spread, states } = this.known
    const target = this.matrix.targets[t]
    const { aligned, validity, exposure } = this.matrix.donors[leadOf(shares[t]).column]
    const { inside } = this.region.frames.get(target.frame)!
    const { window } = registration
    const { box } = this.region
    const part = { ...box, x: box.x - window.x, y: box.y - window.y }
    let cleanest = -1
    let dirty = new Uint8Array(inside.length)
    for (const { level } of states) {
      const marks = new Uint8Array(inside.length)
      markDirty(this.workspace, { aligned, validity, exposure, level, spread }, window.w, marks, part)
      const share = cleanShare(marks, inside) ?? 1
      if (share <= cleanest) continue
      cleanest = share
      dirty = marks
    }
    const share = 1 - frames[t].clean!
    const on = onFrame(frames, 'clean', t)
    const where = placeIn(inside, dirty, window.w)
    return `${percent(share)} of the region${where && `, ${where},`} is not empty in the donor${on}`
  }
}

type Shares = Draft['shares'][number]

function leadOf(shares: Shares): Shares[number] {
  return shares.reduce((a, b) => (b.weight > a.weight ? b : a))
}

function beyond(key: Located, value: number | null): boolean {
  const [low, high] = LIMITS[key].holds
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
  const values = frames.flatMap((f) => f[key] ?? [])
  const target = frames[worst].target
  if (values.filter((v) => beyond(key, v)).length <= 1) return ` on ${target}`
  const faults = values.map((v) => (key === 'seam' ? v : 1 - v))
  return Math.min(...faults) >= (1 - ALIKE) * Math.max(...faults) ? '' : `, worst on ${target}`
}

function alongBorder({ what, sides, corner, stops }: BorderDifference, on: string): string {
  const edges = `${sides.slice(0, -1).join(', ')}${sides.length > 1 ? ' and ' : ''}${sides[sides.length - 1]}`
  const where =
    sides.length === 4
      ? 'all round the region'
      : corner
        ? `at the ${corner.join(' ')}`
        : `along the ${edges} edge${sides.length > 1 ? 's' : ''}`
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
