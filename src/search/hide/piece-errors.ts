// What a mosaic's pieces are off by, each against its donor's whole part of the region: by what is likely there, by what frames
// next to the target show, and where two pieces meet.

import { NO_LABEL } from '../../match/labelling.js'
import { INVALID } from '../../match/log-luminance.js'
import type { Registered } from '../register.js'
import type { Lender, LenderTable } from './lenders.js'

/** Borders are looked at in squares of this side, pixels, with so many of their pixels at least; so many of them may show more. */
const STRETCH_PX = 16
const MIN_STRETCH = 12
const SHOWING_SHARE = 0.1

interface Piece {
  readonly labels: Readonly<Uint8Array>
  readonly label: number
  readonly atBorder: Apart
  /** What grain alone comes to in that, see `grainApart`. */
  readonly grain: number
  /** Which part of the region is asked for, and per place of `labels` which it lies in. */
  readonly part: number
  readonly partOf: Readonly<Uint8Array>
}

/**
 * A donor's piece against its whole region, by how they differ from what is likely there, mean square over mean square: what
 * its cost holds for somebody elsewhere in the region is not lent. Where clean pixels of two pieces meet and differ one of both
 * is wrong, and nobody knows which: beside its grain a piece is off by half of that at least, however likely it looks by itself.
 */
export function errorShare(
  table: LenderTable,
  lender: Lender,
  { labels, label, atBorder, grain, part, partOf }: Piece,
): number {
  let piece = 0
  let pixels = 0
  for (let k = 0; k < labels.length; k++) {
    if (labels[k] !== label || partOf[k] !== part) continue
    const tile = table.tileOf(k)
    const clean = table.size[tile] - lender.dirty[tile]
    piece += clean > 0 ? lender.own[tile] / clean : lender.all[tile] / table.size[tile]
    pixels++
  }
  let whole = 0
  let size = 0
  for (let tile = 0; tile < table.tiles; tile++) {
    if (partOf[table.middleOf(tile)] !== part) continue
    whole += lender.all[tile]
    size += table.size[tile]
  }
  if (whole === 0 || pixels === 0) return 1
  const apart = atBorder.n > 0 ? Math.max(0, atBorder.sum / atBorder.n - grain) : 0
  const all = whole / size
  // Where grain itself is less than on the surround (a clipped sky), a piece is no further off than its donor for that.
  return Math.max(Math.min(all, piece / pixels), Math.min(1, all) + apart / 2) / all
}

/**
 * The same held against frames next to the target, which had no say in what is likely: pieces were chosen for lying near
 * that, and where the region itself is never still (a fan, leaves) they lie near it by choice and no nearer to the truth.
 * Of the side that all pieces together are more like, as the region may change between; 0 where none is known. One part of the
 * region after the other for each donor.
 */
export function besideShares(
  table: LenderTable,
  chosen: readonly Lender[],
  labels: Readonly<Uint8Array>,
  sides: readonly (readonly Registered[])[],
  { partOf, parts }: { readonly partOf: Readonly<Uint8Array>; readonly parts: number },
): number[] {
  const slots = chosen.length * parts
  const labelled = [...labels.keys()].filter((k) => labels[k] !== NO_LABEL)
  const pixels = {
    labels: Uint8Array.from(labelled, (k) => labels[k]),
    places: Int32Array.from(labelled, (k) => table.placeOf(k)),
    partOf: Uint8Array.from(labelled, (k) => partOf[k]),
  }
  let best: { mean: number; shares: number[] } | null = null
  for (const side of sides) {
    const off = noOffs(slots)
    for (const frame of side) {
      // Whoever stands there for a while is no witness, and a hole is dirty, too.
      const dirty = table.dirt(frame)
      for (const [l, { donor }] of chosen.entries())
        if (donor !== frame) addOffs(donor, frame, dirty, pixels, l, l * parts, off)
    }
    const seen = off.pixels.reduce((sum, n) => sum + n, 0)
    if (seen === 0) continue
    const mean = off.piece.reduce((sum, square) => sum + square, 0) / seen
    // The frame that it is held against has grain of its own, which is no error of the piece.
    const beyond = (mean: number) => Math.max(1, mean / table.grain ** 2 - 1)
    const shares = Array.from(off.pixels, (n, s) =>
      n > 0 ? beyond(off.piece[s] / n) / beyond(off.whole[s] / off.all[s]) : 0,
    )
    if (best === null || mean < best.mean) best = { mean, shares }
  }
  return best?.shares ?? new Array<number>(slots).fill(0)
}

/** Per donor and part: squared differences on its own piece and on all of them, and over how many pixels they are added up. */
type Offs = { readonly [K in 'piece' | 'pixels' | 'whole' | 'all']: Float64Array }

function noOffs(slots: number): Offs {
  const none = () => new Float64Array(slots)
  return { piece: none(), pixels: none(), whole: none(), all: none() }
}

/**
 * Adds what a donor is off by from a frame, pixel by pixel.
 *
 * @param places in the window, of pixels that have a label
 * @param own    the donor's label
 * @param slot   its first part's among the sums
 */
function addOffs(
  { aligned: lent, validity, exposure: lit }: Registered,
  { aligned, exposure }: Registered,
  dirty: Readonly<Uint8Array>,
  {
    labels,
    places,
    partOf,
  }: {
    readonly labels: Readonly<Uint8Array>
    readonly places: Readonly<Int32Array>
    readonly partOf: Readonly<Uint8Array>
  },
  own: number,
  slot: number,
  { piece, pixels, whole, all }: Offs,
): void {
  for (let k = 0; k < places.length; k++) {
    const i = places[k]
    if (validity[i] === INVALID || dirty[i] === 1) continue
    const square = (lent[i] + lit - aligned[i] - exposure) ** 2
    const at = slot + partOf[k]
    whole[at] += square
    all[at]++
    if (labels[k] !== own) continue
    piece[at] += square
    pixels[at]++
  }
}

/** Squared differences from the pieces beside it, along a piece's borders, where neither shows anybody. */
interface Apart {
  sum: number
  n: number
}

export function apartAtBorders(
  labels: Readonly<Uint8Array>,
  priced: readonly { readonly dirty: Readonly<Uint8Array> }[],
  pictures: readonly Float32Array[],
  width: number,
): Apart[] {
  const apart = pictures.map(() => ({ sum: 0, n: 0 }))
  eachAtBorders(labels, width, (a, b, at) => {
    if (priced[a].dirty[at] + priced[b].dirty[at] > 0) return
    for (const label of [a, b]) {
      apart[label].sum += (pictures[a][at] - pictures[b][at]) ** 2
      apart[label].n++
    }
  })
  return apart
}

/** The two pixels of every place where pieces `a` and `b` meet. */
export function eachAtBorders(
  labels: Readonly<Uint8Array>,
  width: number,
  visit: (a: number, b: number, at: number) => void,
): void {
  const look = (k: number, other: number) => {
    const [a, b] = [labels[k], labels[other]]
    if (a === b || a === NO_LABEL || b === NO_LABEL) return
    for (const at of [k, other]) visit(a, b, at)
  }
  for (let k = 0; k < labels.length; k++) {
    if ((k + 1) % width !== 0) look(k, k + 1)
    if (k + width < labels.length) look(k, k + width)
  }
}

/**
 * What pieces differ by where they meet, over what grain alone gives: RMS on short stretches of their borders, of which nine in ten
 * show less. Over all borders together a few that show are lost among the others, and of so many some are high by chance.
 *
 * @param grain its variance
 */
export function seamBetween(
  labels: Readonly<Uint8Array>,
  pictures: readonly Float32Array[],
  width: number,
  grain: number,
): number {
  const across = Math.ceil(width / STRETCH_PX)
  const stretches = across * Math.ceil(labels.length / width / STRETCH_PX)
  const sums = new Float64Array(stretches)
  const counts = new Int32Array(stretches)
  eachAtBorders(labels, width, (a, b, at) => {
    const x = at % width
    const stretch = Math.floor((at - x) / width / STRETCH_PX) * across + Math.floor(x / STRETCH_PX)
    sums[stretch] += (pictures[a][at] - pictures[b][at]) ** 2
    counts[stretch]++
  })
  const shown = [...sums.keys()]
    .filter((stretch) => counts[stretch] >= MIN_STRETCH)
    .map((stretch) => Math.sqrt(sums[stretch] / counts[stretch] / grain))
    .sort((a, b) => b - a)
  return shown[Math.floor(SHOWING_SHARE * shown.length)] ?? 0
}
