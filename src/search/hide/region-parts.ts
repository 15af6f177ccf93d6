// A region in parts. Where somebody always stands in some of it no frame shows all of it, but each part is empty some time:
// that teaches what donors differ by there, and what they differ by all over is the mean of what they do in each part.

import { subsample } from '../../match/subsample.js'
import type { Rect } from '../../raster/rect.js'
import type { Steps } from '../../turns.js'
import { PairFeatures } from './pair-features.js'
import { LESSONS, lessonsOf, type PlacedLesson } from './pretended.js'
import { RegionView } from './region-view.js'

/** Columns and rows of parts: passers are upright, and hide a third of a region's width or height seldom for long. */
const ACROSS = 3
/** Fewer pixels tell nothing of a part. */
const MIN_PIXELS = 16
/** A pretended target of a part may not be like the real one: so many times as many are tried as are wanted. */
const TRIED = 2

/** Looked at by itself: its pairs, and its share of the region's weight, 0 to 1. */
export interface Part {
  readonly features: PairFeatures
  readonly share: number
  /** Where it lies: no two parts' boxes share a pixel of the window, and all together cover it. */
  readonly box: Rect
}

/** All of the region at once. */
export function wholeAsPart(features: PairFeatures): Part {
  const { w, h } = features.window
  return { features, share: 1, box: { x: 0, y: 0, w, h } }
}

/** The place of the part among others that a pixel of the window belongs to. */
export function partAt(boxes: readonly Rect[], x: number, y: number): number {
  const found = boxes.findIndex((b) => x >= b.x && x < b.x + b.w && y >= b.y && y < b.y + b.h)
  return Math.max(0, found)
}

/**
 * @param whole      all of the region
 * @param unoccupied as `PairFeatures` has it, of a part
 * @returns each with pixels of its own, all of them together all that the region has
 */
export function* partsOf(
  whole: PairFeatures,
  unoccupied: (view: RegionView) => Steps<Uint8Array, never>,
): Steps<Part[], never> {
  const { view, window } = whole
  const { own, ownWeight } = view.list
  const all = ownWeight.reduce((sum, w) => sum + w, 0)
  const parts: Part[] = []
  for (const { places, box } of evenCells(own, ownWeight, window)) {
    const { workspace, mask, frames, registration, spread } = view
    const part = new RegionView(workspace, mask, frames, registration, spread, { of: view, places })
    yield* part.prepare()
    const share = places.reduce((sum, k) => sum + ownWeight[k], 0) / all
    parts.push({ features: new PairFeatures(part, yield* unoccupied(part), window), share, box })
  }
  return parts
}

/**
 * What parts teach: as many lessons of each, since one that is hardly ever empty would be outvoted by those that lie still.
 *
 * @param targets, noiseOf, most as `lessonsOf` has them
 * @returns in order of their frames; none where a part teaches nothing, as others know nothing of it
 */
export function* lessonsOfParts(
  parts: readonly Part[],
  targets: readonly number[],
  noiseOf: Parameters<typeof lessonsOf>[2],
  most = LESSONS,
): Steps<PlacedLesson[], never> {
  const each = Math.ceil(most / parts.length)
  const taught: PlacedLesson[][] = []
  for (const { features } of parts) {
    const lessons = yield* lessonsOf(features, targets, noiseOf, TRIED * each)
    if (lessons.length === 0) return []
    taught.push(lessons)
  }
  const least = Math.min(each, ...taught.map((of) => of.length))
  return taught.flatMap((of) => subsample(of, least)).sort((a, b) => a.target - b.target)
}

/** A cell's pixels, by their places in the list, and where it lies. */
interface Cell {
  readonly places: Int32Array
  readonly box: Rect
}

/** Pixels in columns of equal weight, and each of those in rows of equal weight; none where these are too small to tell of. */
export function evenCells(
  pixels: Readonly<Int32Array>,
  weights: Readonly<Float32Array>,
  { w, h }: Pick<Rect, 'w' | 'h'>,
): Cell[] {
  const cells: Cell[] = []
  const columns = evenlyWeighed([...pixels.keys()], weights, w, (k) => pixels[k] % w)
  for (const column of columns) {
    for (const row of evenlyWeighed(column.places, weights, h, (k) => Math.floor(pixels[k] / w))) {
      if (row.places.length < MIN_PIXELS) return []
      const box = { x: column.from, y: row.from, w: column.to - column.from, h: row.to - row.from }
      cells.push({ places: Int32Array.from(row.places), box })
    }
  }
  return cells
}

/** Lines next to each other, and what lies on them. */
interface Lines {
  readonly from: number
  readonly to: number
  readonly places: readonly number[]
}

/**
 * All lines of the window in as many pieces of equal weight as there are parts across.
 *
 * @param lines  how many
 * @param lineOf which one a place lies on
 */
function evenlyWeighed(
  places: readonly number[],
  weights: Readonly<Float32Array>,
  lines: number,
  lineOf: (place: number) => number,
): Lines[] {
  const weightOf = new Float64Array(lines)
  for (const k of places) weightOf[lineOf(k)] += weights[k]
  const all = weightOf.reduce((sum, w) => sum + w, 0)
  const ends: number[] = []
  let before = 0
  for (let line = 0; line < lines; line++) {
    // A line belongs where its middle lies.
    const part = Math.floor((ACROSS * (before + weightOf[line] / 2)) / all)
    while (ends.length < part && ends.length < ACROSS - 1) ends.push(line)
    before += weightOf[line]
  }
  while (ends.length < ACROSS - 1) ends.push(lines)
  return [...ends, lines].map((to, part) => {
    const from = part > 0 ? ends[part - 1] : 0
    return { from, to, places: places.filter((k) => lineOf(k) >= from && lineOf(k) < to) }
  })
}
