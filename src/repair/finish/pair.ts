// What changes from one written frame to the next, in small cells: inside the patch, and in the ring of the plate round it.
import type { Frame } from '../../raster/frame.js'

/** Side of a cell: small beside a ring, and enough samples to tell a variance by. */
export const CELL_PX = 8
/** A cell tells from so many samples on. */
const MIN_SAMPLES = CELL_PX ** 2 / 2
/** Light below this is black to every plate: what is cut off there has no grain. */
const BLACK = 2 ** -11

/** A written frame over the region's window. */
export interface Shown {
  /** Linear RGB of the plate with the patch laid over. */
  readonly repaired: Frame
  /** The patch's alpha, 0 to 1. */
  readonly alpha: Readonly<Float32Array>
  /** 1 on the surround. */
  readonly surround: Readonly<Float32Array>
}

/** Which pixels of a pair of frames are told apart. */
export const INSIDE = 1
export const RING = 2

/** Per cell and channel of one side. Sums are over samples that both frames have. */
export class CellSums {
  readonly count: Float64Array
  /** Per cell, R, G and B: sums of a, b, a a, a b, b b. */
  readonly sums: Float64Array

  constructor(readonly cells: number) {
    this.count = new Float64Array(cells)
    this.sums = new Float64Array(15 * cells)
  }

  clear(): void {
    this.count.fill(0)
    this.sums.fill(0)
  }

  isTold(cell: number): boolean {
    return this.count[cell]! >= MIN_SAMPLES
  }
}

/**
 * Marks per pixel of `a` INSIDE where the patch alone is seen in both frames, RING where the plate alone is, else 0.
 *
 * @param dx,dy whole pixels by which `b` was moved onto `a`
 */
export function sidesOf(
  a: Shown,
  b: Shown,
  width: number,
  dx: number,
  dy: number,
  out: Uint8Array,
): Uint8Array {
  const height = out.length / width
  for (let y = 0, i = 0; y < height; y++)
    for (let x = 0; x < width; x++, i++) {
      const u = x - dx
      const v = y - dy
      out[i] = 0
      if (u < 0 || v < 0 || u >= width || v >= height) continue
      const j = v * width + u
      if (a.alpha[i] === 1 && b.alpha[j] === 1) out[i] = INSIDE
      else if (a.alpha[i] === 0 && b.alpha[j] === 0 && a.surround[i]! > 0 && b.surround[j]! > 0) out[i] = RING
    }
  return out
}

/**
 * Adds up both pictures of a pair cell by cell; samples that are black, clipped or no numbers are left out, and marked 0.
 *
 * @param sides as sidesOf; changed
 */
export function addUp(
  a: Frame,
  b: Frame,
  sides: Uint8Array,
  clip: number,
  inside: CellSums,
  ring: CellSums,
): void {
  const [height, width] = a.shape
  const columns = Math.ceil(width / CELL_PX)
  inside.clear()
  ring.clear()
  const [one, two] = [a.data, b.data]
  for (let y = 0, i = 0; y < height; y++) {
    const row = Math.floor(y / CELL_PX) * columns
    for (let x = 0; x < width; x++, i++) {
      const side = sides[i]
      if (side === 0) continue
      const j = 3 * i
      if (!(isTelling(one, j, clip) && isTelling(two, j, clip))) {
        sides[i] = 0
        continue
      }
      const cell = row + Math.floor(x / CELL_PX)
      const { count, sums } = side === INSIDE ? inside : ring
      count[cell]!++
      for (let c = 0, at = 15 * cell; c < 3; c++, at += 5) {
        const p = one[j + c]!
        const q = two[j + c]!
        sums[at]! += p
        sums[at + 1]! += q
        sums[at + 2]! += p * p
        sums[at + 3]! += p * q
        sums[at + 4]! += q * q
      }
    }
  }
}

/** Is a pixel's light between black and clipped, in green, and nowhere clipped? */
export function isTelling(data: Readonly<Float32Array>, at: number, clip: number): boolean {
  return data[at]! < clip && data[at + 1]! < clip && data[at + 2]! < clip && data[at + 1]! > BLACK
}
