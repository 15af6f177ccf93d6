// Which piece of a mosaic lies where: a number per pixel, row by row in runs, as the result file holds it.
import type { Rect } from '../raster/rect.js'
import type { PieceMap } from './piece-map-schema.js'

/** @param labels a piece per pixel of the box, row-major */
export function packPieces(labels: Readonly<Uint8Array>, { x, y, w, h }: Rect): PieceMap {
  const rows = Array.from({ length: h }, (_, row) => {
    const runs: string[] = []
    for (let from = row * w, to = from; from < (row + 1) * w; from = to) {
      while (to < (row + 1) * w && labels[to] === labels[from]) to++
      runs.push(`${labels[from]}:${to - from}`)
    }
    return runs.join(' ')
  })
  return { box: [x, y, w, h], rows }
}

/** A piece per pixel of the box, row-major. The map must have passed `pieceMapMisfit`. */
export function unpackPieces({ box: [, , w, h], rows }: PieceMap): Uint8Array {
  const labels = new Uint8Array(w * h)
  for (const [y, row] of rows.entries()) {
    let at = y * w
    for (const [piece, length] of runsOf(row)) {
      labels.fill(piece, at, at + length)
      at += length
    }
  }
  return labels
}

/** What of a map does not fit its box or its pieces, in words; null where all does. @param pieces how many there are */
export function pieceMapMisfit({ box: [, , w, h], rows }: PieceMap, pieces: number): string | null {
  if (rows.length !== h) return `rows must be one for each of the box's ${h} rows, and are ${rows.length}`
  for (const [y, row] of rows.entries()) {
    const runs = runsOf(row)
    const length = runs.reduce((sum, [, n]) => sum + n, 0)
    if (length !== w) return `rows[${y}] must be ${w} pixels long, and is ${length}`
    const foreign = runs.find(([piece]) => piece >= pieces)
    if (foreign) return `rows[${y}] must name pieces from 0 to ${pieces - 1}, and names ${foreign[0]}`
  }
  return null
}

function runsOf(row: string): (readonly [piece: number, length: number])[] {
  return row.split(' ').map((run) => {
    const [piece, length] = run.split(':').map(Number)
    return [piece, length] as const
  })
}
