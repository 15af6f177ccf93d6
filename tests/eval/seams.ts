// Do the pieces of a mosaic show? The step across their borders, against the step that the truth has at the same places.
import type { Rect } from '../../src/raster/rect.js'
import type { Picture } from '../resample.js'
import { toLinear } from './footage.js'
import { inRegion } from './region.js'
import { luminance } from './score.js'

/** Squared steps of log2 luminance over all pairs of neighbours that two pieces share; adds up over frames. */
export interface Steps {
  repaired: number
  truth: number
  pairs: number
}

/** Keeps the logarithm off zero in black pixels. */
const LOG_FLOOR = 1e-3

/**
 * @param pieces  per pixel of the region's box, row by row, which piece lends it; below 0 outside of the region
 * @param width   of the box
 * @param at      offset into `repaired` (linear light) of the box's pixel 0, and of one row to the next
 * @param truthAt the same of `truth` (display-encoded)
 */
export function stepsAcross(
  pieces: Int16Array,
  width: number,
  repaired: Picture,
  at: number,
  truth: Picture,
  truthAt: number,
): Steps {
  const out = { repaired: 0, truth: 0, pairs: 0 }
  const across = (i: number, j: number) => {
    if (pieces[i] < 0 || pieces[j] < 0 || pieces[i] === pieces[j]) return
    out.repaired += (shown(i) - shown(j)) ** 2
    out.truth += (real(i) - real(j)) ** 2
    out.pairs++
  }
  const shown = (i: number) => {
    const p = 3 * (at + Math.floor(i / width) * repaired.width + (i % width))
    const { data } = repaired
    return Math.log2(Math.max(LOG_FLOOR, luminance(data[p], data[p + 1], data[p + 2])))
  }
  const real = (i: number) => {
    const p = 3 * (truthAt + Math.floor(i / width) * truth.width + (i % width))
    const [red, green, blue] = [0, 1, 2].map((c) => toLinear(truth.data[p + c]))
    return Math.log2(Math.max(LOG_FLOOR, luminance(red, green, blue)))
  }
  for (let i = 0; i < pieces.length; i++) {
    if ((i + 1) % width !== 0) across(i, i + 1)
    if (i + width < pieces.length) across(i, i + width)
  }
  return out
}

/** RMS step of the repair over that of the truth; null where no two pieces meet, or the truth is flat there. */
export function stepRatio(steps: readonly Steps[]): number | null {
  let repaired = 0
  let truth = 0
  for (const s of steps) {
    repaired += s.repaired
    truth += s.truth
  }
  return truth > 0 ? Math.sqrt(repaired / truth) : null
}

/** A mosaic's map as the result file has it: a box on the grid of all frames, and per row its runs, "piece:pixels". */
export interface PieceMap {
  readonly box: readonly [x: number, y: number, w: number, h: number]
  readonly rows: readonly string[]
}

/**
 * Which piece lends each pixel of the region's box on one target frame; -1 outside of the region.
 *
 * @param place moves the map onto the frame
 * @param box   the region's, on the frame
 */
export function piecesOn(map: PieceMap, place: { dx: number; dy: number }, box: Rect): Int16Array {
  const [left, top, , height] = map.box
  const rows = map.rows.map((row) =>
    row.split(' ').flatMap((run) => {
      const [piece, length] = run.split(':').map(Number)
      return Array<number>(length).fill(piece)
    }),
  )
  const within = (i: number, size: number) => Math.max(0, Math.min(size - 1, i))
  const out = new Int16Array(box.w * box.h).fill(-1)
  for (let y = 0, i = 0; y < box.h; y++) {
    const row = rows[within(Math.round(box.y + y - place.dy) - top, height)]
    for (let x = 0; x < box.w; x++, i++) {
      if (inRegion(box, x, y)) out[i] = row[within(Math.round(box.x + x - place.dx) - left, row.length)]
    }
  }
  return out
}
