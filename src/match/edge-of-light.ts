// The edge of a hard shadow is rough, as an occluder is: a step in light, which no plane across a tile takes out. What tells the
// two apart is the surface's own finest texture on both sides of the step: under light it stays, in the logarithm, as it was.
import { VALID } from './log-luminance.js'
import type { TileGrid } from './tiles.js'

/** A frame's pixels over the window, and what they are held against: log2 luminance on the common grid. */
export interface Shown {
  readonly aligned: Readonly<Float32Array>
  /** The reference state. */
  readonly level: Readonly<Float32Array>
  readonly validity: Readonly<Uint8Array>
}

/** The finest detail of some pixels, what each is above the mean of the 3 x 3 about it: sums in stops squared. */
export interface Detail {
  /** Of the reference state's. */
  readonly expected: number
  /** Product of the reference state's and the frame's: as much where the surface is seen, about 0 where it is not. */
  readonly shown: number
}

/** A pixel lies on the step itself where changes about it differ by this share of all that differs in the tile. */
const ON_STEP = 0.4

/** Detail of a tile's pixels, those on the step left out. */
export function detailOf(
  { aligned, level, validity }: Shown,
  { columns, size, width, height }: TileGrid,
  tile: number,
): Detail {
  const x0 = Math.max(1, (tile % columns) * size)
  const y0 = Math.max(1, Math.floor(tile / columns) * size)
  const x1 = Math.min(width - 1, (tile % columns) * size + size)
  const y1 = Math.min(height - 1, Math.floor(tile / columns) * size + size)
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  for (let y = y0; y < y1; y++) {
    for (let x = x0, i = y * width + x0; x < x1; x++, i++) {
      if (validity[i] !== VALID) continue
      low = Math.min(low, aligned[i] - level[i])
      high = Math.max(high, aligned[i] - level[i])
    }
  }
  const step = ON_STEP * (high - low)
  let expected = 0
  let shown = 0
  for (let y = y0; y < y1; y++) {
    for (let x = x0, i = y * width + x0; x < x1; x++, i++) {
      let seen = true
      let here = 0
      let there = 0
      let least = Number.POSITIVE_INFINITY
      let most = Number.NEGATIVE_INFINITY
      for (let row = i - width; row <= i + width; row += width) {
        for (let k = row - 1; k <= row + 1; k++) {
          if (validity[k] !== VALID) seen = false
          const change = aligned[k] - level[k]
          if (change < least) least = change
          if (change > most) most = change
          here += aligned[k]
          there += level[k]
        }
      }
      if (!seen || most - least > step) continue
      const detail = level[i] - there / 9
      expected += detail * detail
      shown += detail * (aligned[i] - here / 9)
    }
  }
  return { expected, shown }
}
