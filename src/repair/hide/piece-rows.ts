// The rows of a picture on which a patch, or a mosaic's piece of it, is laid, with room for what filters reach: all that is told of the
// pixels of others, and of those beside the mask, is told in vain.

/** Noise is filtered over 7 pixels either way, detail told over 4. */
const ROOM_PX = 8
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
 * @param own   its share of every pixel; null: it is all of the patch. Neither is changed afterwards
 * @param alpha where the patch is laid
 * @returns none where it is laid nowhere
 */
export function rowsOfPiece(
  own: Readonly<Float32Array> | null,
  alpha: Readonly<Float32Array>,
  width: number,
): Rows {
  const piece = own ?? alpha
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
