// A mosaic's map as it is shown: which donor frame lends where on one target frame.
import type { Rect } from '../../raster/rect.js'
import { mapPixels } from '../../repair/pieces.js'
import type { Candidate, FrameMatch } from '../../search/result.js'
import { outlinePath } from './outline.js'

/** A pixel that no piece lends. */
const NONE = 255
/** Lent at least half. */
const INSIDE = 0.5

/** One piece on the picture; coordinates in pixels of the picture, from its corner. */
export interface PieceArea {
  readonly plate: number
  readonly frame: number
  /** Share of the mask, 0 to 1. */
  readonly share: number
  /** Path data of its border, and of its area. */
  readonly outline: string
  readonly fill: string
  /** The place furthest from its border: there its number stands. */
  readonly x: number
  readonly y: number
}

/**
 * The pieces of a mosaic inside the mask, largest first; none of another kind.
 *
 * @param rect   of the picture; where pictures were brought down, in their own pixels
 * @param mask   0 to 1 over it, row-major
 * @param factor plate pixels of a side per pixel of the picture
 */
export function pieceAreas(
  { map }: Candidate,
  match: FrameMatch,
  rect: Rect,
  mask: Readonly<Float32Array>,
  factor: number,
): PieceArea[] {
  if (map === undefined || match.pieces === undefined || match.map === undefined) return []
  const labels = mapPixels(map, match.map, rect, factor)
  for (let i = 0; i < labels.length; i++) if (mask[i] < INSIDE) labels[i] = NONE
  const all = labels.reduce((n, label) => n + (label === NONE ? 0 : 1), 0)
  return match.pieces
    .flatMap(({ plate, frame }, piece): PieceArea[] => {
      const part = Float32Array.from(labels, (label) => (label === piece ? 1 : 0))
      const size = part.reduce((sum, v) => sum + v, 0)
      if (size === 0) return []
      const outline = outlinePath(part, rect.w, rect.h)
      const fill = fillPath(part, rect.w)
      return [{ plate, frame, share: size / all, outline, fill, ...innermost(part, rect.w) }]
    })
    .sort((a, b) => b.share - a.share)
}

/**
 * The pieces whose numbers are written on the picture: the largest first, and none whose number would lie over another's.
 *
 * @param wide,high of a number, in pixels of the picture
 */
export function numbered(areas: readonly PieceArea[], wide: number, high: number): PieceArea[] {
  const written: PieceArea[] = []
  for (const area of areas) {
    const isFree = ({ x, y }: PieceArea) => Math.abs(x - area.x) >= wide || Math.abs(y - area.y) >= high
    if (written.every(isFree)) written.push(area)
  }
  return written
}

/** A bar for every run of pixels, row by row. */
function fillPath(part: Readonly<Float32Array>, width: number): string {
  const bars: string[] = []
  for (let from = 0; from < part.length; ) {
    if (part[from] === 0) {
      from++
      continue
    }
    const x = from % width
    let to = from
    while (to - from + x < width && part[to] === 1) to++
    bars.push(`M${x} ${Math.floor(from / width)}h${to - from}v1h${from - to}z`)
    from = to
  }
  return bars.join('')
}

/** The middle of the pixel with the most steps to the border, by two passes (A. Rosenfeld, J. Pfaltz 1966). */
function innermost(part: Readonly<Float32Array>, width: number): { x: number; y: number } {
  const height = part.length / width
  const steps = new Int32Array(part.length)
  const at = (x: number, y: number) =>
    x < 0 || y < 0 || x >= width || y >= height ? 0 : steps[y * width + x]
  const far = width + height
  let best = 0
  for (let y = 0, i = 0; y < height; y++)
    for (let x = 0; x < width; x++, i++)
      if (part[i] === 1) steps[i] = 1 + Math.min(far, at(x - 1, y), at(x, y - 1))
  for (let i = part.length - 1; i >= 0; i--) {
    const [x, y] = [i % width, Math.floor(i / width)]
    if (part[i] === 1) steps[i] = Math.min(steps[i], 1 + at(x + 1, y), 1 + at(x, y + 1))
    if (steps[i] > steps[best]) best = i
  }
  return { x: (best % width) + 0.5, y: Math.floor(best / width) + 0.5 }
}
