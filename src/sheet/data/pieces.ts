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
  const all = keepInside(labels, mask)
  const part = new Float32Array(labels.length)
  return match.pieces
    .flatMap(({ plate, frame }, piece): PieceArea[] => {
      const size = markPiece(labels, piece, part)
      if (size === 0) return []
      const outline = outlinePath(part, rect.w, rect.h)
      const fill = fillPath(part, rect.w)
      return [{ plate, frame, share: size / all, outline, fill, ...innermost(part, rect.w) }]
    })
    .sort((a, b) => b.share - a.share)
}

// Loops over pixels are functions of their own: a short one is compiled soon, and only once.

/** Nobody lends beyond the mask. @param labels changed @returns how many pixels are left that a piece lends */
function keepInside(labels: Uint8Array, mask: Readonly<Float32Array>): number {
  let count = 0
  for (let i = 0; i < labels.length; i++) {
    if (mask[i] < INSIDE) labels[i] = NONE
    if (labels[i] !== NONE) count++
  }
  return count
}

/** @param part receives 1 per pixel of the piece, else 0 @returns how many there are */
function markPiece(labels: Readonly<Uint8Array>, piece: number, part: Float32Array): number {
  let count = 0
  for (let i = 0; i < labels.length; i++) {
    const isIn = labels[i] === piece
    part[i] = isIn ? 1 : 0
    if (isIn) count++
  }
  return count
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
  // With a pixel of nothing round it.
  const pitch = width + 2
  const steps = new Int32Array(pitch * (height + 2))
  for (let y = 0, i = 0; y < height; y++)
    for (let x = 0, at = (y + 1) * pitch + 1; x < width; x++, i++, at++)
      if (part[i] === 1) steps[at] = 1 + Math.min(steps[at - 1], steps[at - pitch])
  const best = furthest(steps, pitch, height)
  return { x: (best % pitch) - 0.5, y: Math.floor(best / pitch) - 0.5 }
}

/** The second pass, from the end. @param steps of the first; changed @returns where there are most */
function furthest(steps: Int32Array, pitch: number, height: number): number {
  let best = 0
  for (let y = height; y > 0; y--)
    for (let at = (y + 1) * pitch - 2; at > y * pitch; at--) {
      const here = steps[at]
      if (here === 0) continue
      const least = Math.min(here, 1 + steps[at + 1], 1 + steps[at + pitch])
      steps[at] = least
      if (least > steps[best]) best = at
    }
  return best
}
