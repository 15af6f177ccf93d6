// The rows of a picture on which a mosaic's piece is laid, with room for what filters reach: of several pieces each takes some of
// the region, and all that is told of every pixel of the others is told in vain.

/** Noise is filtered over 7 pixels either way, detail told over 4. */
const ROOM_PX = 16
/** Kernels take four samples at a time: a part of a picture has a whole number of them. */
const STEP = 4

/** From the first row to before the last. */
export interface Rows {
  readonly from: number
  readonly to: number
}

const known = new WeakMap<
  Readonly<Float32Array>,
  { readonly alpha: Readonly<Float32Array>; readonly rows: Rows }
>()

/**
 * @param piece its share of every pixel; neither is changed afterwards
 * @param alpha where the patch is laid
 * @returns none where it is laid nowhere
 */
export function rowsOfPiece(
  piece: Readonly<Float32Array>,
  alpha: Readonly<Float32Array>,
  width: number,
): Rows {
  const found = known.get(piece)
  if (found?.alpha === alpha) return found.rows
  const rows = told(piece, alpha, width)
  known.set(piece, { alpha, rows })
  return rows
}

function told(piece: Readonly<Float32Array>, alpha: Readonly<Float32Array>, width: number): Rows {
  const height = alpha.length / width
  let first = 0
  while (first < alpha.length && !(piece[first]! > 0 && alpha[first]! > 0)) first++
  if (first === alpha.length) return { from: 0, to: 0 }
  let last = alpha.length - 1
  while (!(piece[last]! > 0 && alpha[last]! > 0)) last--
  const [top, bottom] = [Math.floor(first / width) - ROOM_PX, Math.floor(last / width) + 1 + ROOM_PX]
  return {
    from: Math.max(0, Math.floor(top / STEP) * STEP),
    to: Math.min(height, Math.ceil(bottom / STEP) * STEP),
  }
}
