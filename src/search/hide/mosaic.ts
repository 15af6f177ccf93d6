// A mosaic: often no frame is empty all over, but every pixel is empty some time. Each part of the region comes from a donor
// that is empty there, by one labelling on the common grid for the whole range, so that no seam moves from frame to frame.

import type { Held, Workspace } from '../../kernels/workspace.js'
import { explainedSpread, visibleSpread } from '../../match/clean.js'
import { labelGrid, NO_LABEL } from '../../match/labelling.js'
import { boundsOf, type Rect } from '../../raster/rect.js'
import { dilate, type Region } from '../../region/region.js'
import type { Steps } from '../../turns.js'
import type { Draft, MosaicDraft } from '../measure.js'
import { packPieces } from '../piece-map.js'
import { pixelLists } from '../pixel-lists.js'
import type { Registered, Registration } from '../register.js'
import { chooseLenders } from './choose-lenders.js'
import { cleanAlways, heldCost } from './drafts.js'
import { grainApart } from './grain-apart.js'
import { type Lender, LenderTable } from './lenders.js'
import { livelyErrors } from './lively.js'
import { eachInside } from './mask-on-grid.js'
import type { Matrix } from './matrix.js'
import type { OtherColourOf } from './other-colour.js'
import { apartAtBorders, besideShares, errorShare, seamBetween } from './piece-errors.js'
import { partAt } from './region-parts.js'

/** Donors that are labelled with at most. */
const MAX_LENDERS = 24
/** Price of another donor, per pixel of the region: it must save so much of the grain's variance over all of it. */
const LENDER_PRICE = 0.1
/** A donor that saves less than this share of its price is not even tried. */
const WORTH_TRYING = 0.2
/** Round the mask, pixels: a patch's feather is lent, too. */
const ROOM_PX = 5
/** Where a donor is clean all over, a mosaic must be expected to have less than this share of its squared error (1 dB). */
const WORTHWHILE = 0.8

/**
 * @param registration with the clean plate that holds at the target
 * @param sides        frames next to the target whose region is empty: those before it, and those after it
 * @param otherColour  what nobody lends, whatever luminance tells; then only whose colours are known may lend
 * @returns one draft, or none where a donor alone will do
 */
export function* mosaics(
  workspace: Workspace,
  registration: Registration,
  region: Region,
  matrix: Matrix,
  sides: readonly (readonly Registered[])[],
  otherColour: OtherColourOf | null = null,
): Steps<Draft[], never> {
  const held = workspace.hold()
  try {
    return yield* mosaicsIn(workspace, held, registration, region, matrix, sides, otherColour)
  } finally {
    held.release()
  }
}

function* mosaicsIn(
  workspace: Workspace,
  held: Held,
  registration: Registration,
  region: Region,
  matrix: Matrix,
  sides: readonly (readonly Registered[])[],
  otherColour: OtherColourOf | null,
): Steps<Draft[], never> {
  const { targets, donors } = matrix
  const able = donors
    .map((_, column) => column)
    .filter((column) => Number.isFinite(heldCost(matrix, column).mean))
    .filter((column) => otherColour === null || otherColour(donors[column]) !== null)
  const bestClean = Math.min(
    ...able.filter((c) => cleanAlways(matrix, c)).map((c) => heldCost(matrix, c).mean),
  )
  const wanted = wantedPixels(registration, region, targets)
  const part = boundsOf(wanted, registration.window.w)
  if (able.length < 2 || part === null) return []
  const middle = targets[targets.length >> 1]
  const mask = region.frames.get(middle.frame)!
  const spread = explainedSpread(registration.cleanPlate, mask.surround, registration.minSpread)
  const grain = pixelLists(mask, spread, registration.minSpread).surroundSpread
  const seen = visibleSpread(registration.cleanPlate.level, spread)
  const table = new LenderTable(workspace, held, registration, wanted, part, seen, grain, otherColour)
  yield* table.settle(
    middle,
    able.map((column) => donors[column]),
  )
  const lenders: Lender[] = []
  for (const column of able) {
    yield
    lenders.push(table.lender(donors[column], column, seamOf(matrix, column)))
  }
  const pixels = table.size.reduce((sum, n) => sum + n, 0)
  const labelPrice = LENDER_PRICE * pixels
  const chosen = yield* chooseLenders(table, lenders, MAX_LENDERS, WORTH_TRYING * labelPrice)
  if (chosen.length < 2) return []
  // Where a donor is clean all over, only much better pieces are worth their seams.
  if (Number.isFinite(bestClean) && !isPromising(table, lenders, chosen, matrix)) return []
  yield
  const drafted = assemble(table, held, chosen, labelPrice, { registration, region, matrix, sides })
  if (drafted === null || drafted.cost >= WORTHWHILE * bestClean) return []
  return [drafted]
}

/** True where every tile from its best donor would cost much less than all from the best one that is clean. */
function isPromising(
  table: LenderTable,
  lenders: readonly Lender[],
  chosen: readonly Lender[],
  matrix: Matrix,
): boolean {
  let alone = Number.POSITIVE_INFINITY
  for (const lender of lenders) {
    if (!cleanAlways(matrix, lender.column)) continue
    let sum = 0
    for (let tile = 0; tile < table.tiles; tile++) sum += table.tilePrice(lender, tile)
    alone = Math.min(alone, sum)
  }
  let together = 0
  for (let tile = 0; tile < table.tiles; tile++)
    together += Math.min(...chosen.map((lender) => table.tilePrice(lender, tile)))
  return together < WORTHWHILE * alone
}

interface Searched {
  readonly registration: Registration
  readonly region: Region
  readonly matrix: Matrix
  readonly sides: readonly (readonly Registered[])[]
}

function assemble(
  table: LenderTable,
  held: Held,
  chosen: readonly Lender[],
  labelPrice: number,
  { registration, region, matrix, sides }: Searched,
): Draft | null {
  const { part } = table
  const { window } = registration
  const { parts } = matrix
  const laid = labelled(table, held, chosen, labelPrice)
  const { labels, priced, pictures } = laid
  const used = chosen.map((_, l) => l).filter((l) => labels.includes(l))
  if (used.length < 2) return null
  const grain = grainApart(
    used.map((l) => pictures[l]),
    used.map((l) => priced[l].dirty),
    part.w,
  )
  const seam = seamBetween(labels, pictures, part.w, grain)
  const dirty = labels.map((l, k) => (l === NO_LABEL ? 0 : priced[l].dirty[k]))
  const pieces = nearestLabels(
    labels.map((l) => (l === NO_LABEL ? NO_LABEL : used.indexOf(l))),
    part.w,
  )
  const partOf = partsIn(part, parts)
  const errors = errorsOfPieces(table, chosen, used, { ...laid, grain }, { matrix, sides }, partOf)
  const clean: number[] = []
  let cost = 0
  const shares = matrix.targets.map((target, t) => {
    const weights = new Float64Array(used.length * parts.length)
    let agreeing = 0
    let all = 0
    eachInside(region.frames.get(target.frame)!.inside, target, window, part, (weight, k) => {
      weights[pieces[k] * parts.length + partOf[k]] += weight
      all += weight
      if (dirty[k] === 0) agreeing += weight
    })
    clean.push(all > 0 ? agreeing / all : 1)
    return used.map((l, piece) => {
      const { column } = chosen[l]
      let weight = 0
      for (let p = 0; p < parts.length; p++) {
        const slot = piece * parts.length + p
        const share = all > 0 ? weights[slot] / all : 0
        weight += share
        if (share === 0) continue
        const { times, least } = errors[slot]
        cost += (share * Math.max(times * matrix.costOf(t, column, p), least)) / matrix.targets.length
      }
      return { column, weight }
    })
  })
  const box = { ...part, x: part.x + window.x, y: part.y + window.y }
  const mosaic: MosaicDraft = { map: packPieces(pieces, box), clean, seam }
  const plate = chosen[used[0]].donor.plate
  return { kind: 'mosaic', id: 'mosaic-1', plate, timeOffset: null, shares, cost, meanCost: cost, mosaic }
}

/** Who lends which pixel of the part, by their places among the chosen, and what each would cost and show there. */
interface Labelled {
  readonly labels: Uint8Array
  readonly priced: readonly ReturnType<LenderTable['prices']>[]
  readonly pictures: readonly Float32Array[]
}

/** @param held where prices and pictures lie */
function labelled(table: LenderTable, held: Held, chosen: readonly Lender[], labelPrice: number): Labelled {
  const { part, wanted } = table
  const size = part.w * part.h
  const priced = chosen.map((lender) => table.prices(lender, held.floats(size)))
  const pictures = chosen.map((lender) => table.picture(lender, held.floats(size)))
  const within = new Uint8Array(size)
  for (let k = 0; k < within.length; k++) within[k] = wanted[table.placeOf(k)]
  const labels = labelGrid(table.workspace, {
    width: part.w,
    height: part.h,
    wanted: within,
    data: priced.map(({ price }) => price),
    pictures,
    labelPrice,
  })
  return { labels, priced, pictures }
}

/** Per pixel the part of the region that it belongs to. */
function partsIn({ x, y, w, h }: Rect, parts: Matrix['parts']): Uint8Array {
  const partOf = new Uint8Array(w * h)
  if (parts.length > 1)
    for (let k = 0; k < partOf.length; k++) partOf[k] = partAt(parts, x + (k % w), y + Math.floor(k / w))
  return partOf
}

/** What a piece differs by in one part of the region. */
interface PieceError {
  /** Over what its donor is expected to in the whole part. */
  readonly times: number
  /** At least so much, in units of the matrix. */
  readonly least: number
}

/** @returns per piece and part of the region, one part after the other */
function errorsOfPieces(
  table: LenderTable,
  chosen: readonly Lender[],
  used: readonly number[],
  { labels, priced, pictures, grain }: Labelled & { readonly grain: number },
  { matrix, sides }: Pick<Searched, 'matrix' | 'sides'>,
  partOf: Readonly<Uint8Array>,
): PieceError[] {
  const { parts, unit } = matrix
  const apart = apartAtBorders(labels, priced, pictures, table.part.w)
  const beside = besideShares(table, chosen, labels, sides, { partOf, parts: parts.length })
  const lively = livelyErrors(table, chosen, labels, matrix, partOf)
  return used.flatMap((l) =>
    parts.map((_, p) => {
      const slot = l * parts.length + p
      const ofItself = errorShare(table, chosen[l], {
        labels,
        label: l,
        atBorder: apart[l],
        grain,
        part: p,
        partOf,
      })
      return {
        times: Math.max(ofItself, beside[slot], lively[slot].share),
        // Parts teach by moments at which they stand still: of what they go through in between, frames tell by themselves.
        least: parts.length > 1 ? lively[slot].visible / unit : 0,
      }
    }),
  )
}

/** Every pixel without a label gets the one next to it, from the labelled ones outwards. */
function nearestLabels(labels: Uint8Array, width: number): Uint8Array {
  const front = new Int32Array(labels.length)
  let n = 0
  for (let k = 0; k < labels.length; k++) if (labels[k] !== NO_LABEL) front[n++] = k
  for (let at = 0; at < n; at++) {
    const k = front[at]
    const label = labels[k]
    const spread = (next: number) => {
      if (labels[next] !== NO_LABEL) return
      labels[next] = label
      front[n++] = next
    }
    if (k % width > 0) spread(k - 1)
    if ((k + 1) % width > 0) spread(k + 1)
    if (k >= width) spread(k - width)
    if (k + width < labels.length) spread(k + width)
  }
  return labels
}

/** What any target frame's mask covers on the common grid, and the feather round it. */
function wantedPixels(
  { window: { w, h } }: Registration,
  region: Region,
  targets: readonly Registered[],
): Uint8Array {
  const covered = new Uint8Array(w * h)
  for (const target of targets)
    eachInside(
      region.frames.get(target.frame)!.inside,
      target,
      region.window,
      { x: 0, y: 0, w, h },
      (_, k) => {
        covered[k] = 1
      },
    )
  return dilate(covered, w, h, ROOM_PX)
}

function seamOf({ targets, pair }: Matrix, column: number): number {
  const seams = targets.flatMap((_, t) => pair(t, column).seam ?? [])
  return seams.length > 0 ? seams.reduce((sum, v) => sum + v, 0) / seams.length : 1
}
