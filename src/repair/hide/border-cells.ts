// How much brighter the target is than what is lent, in small cells over the surround: a cell's mean has a quarter of the
// deviation of a pixel's grain, and light does not change over so few pixels.
import { LUMINANCE_WEIGHTS } from '../../colour/luminance.js'
import { LOG_FLOOR } from '../../match/log-luminance.js'
import { select } from '../../match/selection.js'
import type { Frame } from '../../raster/frame.js'

/** Side of a cell. */
export const CELL_PX = 4

export interface Border {
  /** Linear RGB of the target over the window. */
  readonly seen: Frame
  /** The same of what is lent, its light as it was shot, and matched. */
  readonly raw: Frame
  readonly matched: Frame
  /** Per pixel 1 where something is lent. */
  readonly there: Readonly<Uint8Array>
  /** 1 on the surround of this frame's mask. */
  readonly surround: Readonly<Float32Array>
  /** Linear light from which a sample is clipped, of the target and of who lends. */
  readonly clip: readonly [target: number, donor: number]
}

export interface BorderCells {
  readonly columns: number
  readonly rows: number
  /** R, G, B: target over lent, stops; 0 where nothing is told. */
  readonly stops: readonly Float32Array[]
  /** How far each cell tells it, 0 to 1. */
  readonly weight: Float32Array
}

export function borderCells({ seen, raw, matched, there, surround, clip }: Border): BorderCells {
  const [height, width] = seen.shape
  const columns = Math.ceil(width / CELL_PX)
  const rows = Math.ceil(height / CELL_PX)
  const count = new Float32Array(columns * rows)
  const sums = [seen, matched].map(() => [0, 1, 2].map(() => new Float32Array(count.length)))
  for (let y = 0, i = 0; y < height; y++)
    for (let x = 0; x < width; x++, i++) {
      if (surround[i] === 0 || there[i] === 0 || !isMeasured(seen, raw, 3 * i, clip)) continue
      const cell = Math.floor(y / CELL_PX) * columns + Math.floor(x / CELL_PX)
      count[cell]!++
      for (let c = 0; c < 3; c++) {
        sums[0]![c]![cell]! += seen.data[3 * i + c]!
        sums[1]![c]![cell]! += matched.data[3 * i + c]!
      }
    }
  const stops = [0, 1, 2].map((c) => {
    const [target, lent] = [sums[0]![c]!, sums[1]![c]!]
    return count.map((n, k) => (n > 0 ? log(target[k]! / n) - log(lent[k]! / n) : 0))
  })
  return { columns, rows, stops, weight: weights(count, sums[1]!) }
}

function isMeasured(seen: Frame, raw: Frame, at: number, [target, donor]: Border['clip']): boolean {
  for (let i = at; i < at + 3; i++) if (!(seen.data[i]! < target && raw.data[i]! < donor)) return false
  return true
}

/** The floor keeps black from being any number of stops away. */
function log(light: number): number {
  return Math.log2(Math.max(0, light) + LOG_FLOOR)
}

/**
 * By how much of a cell is seen, and by its light: the deviation of grain goes about with the root of light, so that what a ratio
 * is worth, one over its variance, goes with light.
 */
function weights(count: Readonly<Float32Array>, lent: readonly Readonly<Float32Array>[]): Float32Array {
  const light = count.map((n, k) => {
    if (n === 0) return 0
    const sum = LUMINANCE_WEIGHTS.reduce((y, share, c) => y + share * lent[c]![k]!, 0)
    return Math.max(0, sum / n)
  })
  const lit = light.filter((_, k) => count[k]! > 0)
  const middle = lit.length > 0 ? select(lit, lit.length >> 1) : 0
  return count.map((n, k) => (n / CELL_PX ** 2) * Math.min(1, middle > 0 ? light[k]! / middle : 0))
}
