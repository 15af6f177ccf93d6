// What bringing pictures in half floats down is tried on, and the straight walk over their squares.
import { HALF_VALUES } from '../../src/raster/half.js'
import { randomFrom } from '../random.js'

/** Factor, width, height: whole squares, and rests at the right and below. */
export const SQUARE_SIZES = [
  [4, 64, 8],
  [2, 7, 5],
  [3, 11, 10],
  [1, 5, 3],
  [5, 23, 12],
] as const

/** Interleaved RGB: all patterns there are (signs, subnormals, infinities and NaN among them), and a picture of light. */
export function halfPictures(seed: string, width: number, height: number): Uint16Array[] {
  const random = randomFrom(seed)
  const patterns = [() => Math.floor(65536 * random()), () => 0x2c00 + Math.floor(0x1400 * random())]
  return patterns.map((pattern) => Uint16Array.from({ length: 3 * width * height }, pattern))
}

/** The halves of each whole square and channel, in the order in which means are written. */
export function squaresOf(halves: Uint16Array, width: number, height: number, factor: number): number[][] {
  const squares: number[][] = []
  for (let y = 0; y + factor <= height; y += factor)
    for (let x = 0; x + factor <= width; x += factor)
      for (let c = 0; c < 3; c++) {
        const square: number[] = []
        for (let v = y; v < y + factor; v++)
          for (let u = x; u < x + factor; u++) square.push(halves[3 * (v * width + u) + c])
        squares.push(square)
      }
  return squares
}

/** Of IEEE 754 binary16. */
export const ofHalf = (half: number): number => HALF_VALUES[half]

export const sum = (values: readonly number[]): number => values.reduce((total, v) => total + v, 0)
