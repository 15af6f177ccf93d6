// The blocks of DWA, one by one and sample by sample. Source: OpenEXR 3.1 (ImfDwaCompressor) for order and constants; the
// transform is the orthonormal DCT (Ahmed, Natarajan & Rao, 1974).
import { bitsToHalf, halfToFloat } from '../../src/raster/half.js'

const END_OF_BLOCK = 0xff00

/** Where each of 64 coefficients, row by row, lies in the zigzag order in which they are stored (ITU-T T.81, fig. A.6). */
const ZIGZAG = zigzag()

function zigzag(): Uint8Array {
  const order = new Uint8Array(64)
  let n = 0
  for (let diagonal = 0; diagonal < 15; diagonal++) {
    const from = Math.max(0, diagonal - 7)
    const to = Math.min(7, diagonal)
    for (let k = from; k <= to; k++) {
      // even diagonals run upwards to the right, odd ones downwards to the left
      const row = diagonal % 2 === 0 ? to + from - k : k
      order[row * 8 + diagonal - row] = n++
    }
  }
  return order
}

/** basis[k * 8 + x]: weight of coefficient k at sample x. */
const basis = new Float64Array(64)
for (let k = 0; k < 8; k++) {
  const scale = k === 0 ? Math.SQRT1_2 / 2 : 0.5
  for (let x = 0; x < 8; x++) basis[k * 8 + x] = scale * Math.cos(((2 * x + 1) * k * Math.PI) / 16)
}

const rowsDone = new Float64Array(64)

/** Inverse DCT of 64 coefficients, row by row, in place. */
function inverseDct(block: Float32Array): void {
  for (let row = 0; row < 64; row += 8) {
    for (let x = 0; x < 8; x++) {
      let sum = 0
      for (let k = 0; k < 8; k++) sum += block[row + k]! * basis[k * 8 + x]!
      rowsDone[row + x] = sum
    }
  }
  for (let x = 0; x < 8; x++) {
    for (let y = 0; y < 8; y++) {
      let sum = 0
      for (let k = 0; k < 8; k++) sum += rowsDone[k * 8 + x]! * basis[k * 8 + y]!
      block[y * 8 + x] = sum
    }
  }
}

/** Y, Cb, Cr of 64 samples into R, G, B, in place; ITU-R BT.709 differences as DWA rounds them. */
function differencesToRgb(y: Float32Array, cb: Float32Array, cr: Float32Array): void {
  for (let i = 0; i < 64; i++) {
    const [luma, blue, red] = [y[i]!, cb[i]!, cr[i]!]
    y[i] = luma + 1.5747 * red
    cb[i] = luma - 0.1873 * blue - 0.4682 * red
    cr[i] = luma + 1.8556 * blue
  }
}

const bits = new Uint32Array(1)
const value = new Float32Array(bits.buffer)

interface Planes {
  readonly columns: number
  readonly rows: number
  /** Bytes of a sample, per plane. */
  readonly bytes: readonly number[]
  readonly table?: Uint16Array
}

/** @returns the samples of each plane and the next of the coefficients, or null where they end early */
export function straightBlocks(
  ac: Uint16Array,
  dc: Uint16Array,
  { columns, rows, bytes, table }: Planes,
): { readonly planes: Uint8Array[]; readonly next: number } | null {
  const [across, down] = [Math.ceil(columns / 8), Math.ceil(rows / 8)]
  const planes = bytes.map((b) => new Uint8Array(columns * rows * b))
  let next = 0
  for (let by = 0, n = 0; by < down; by++) {
    for (let bx = 0; bx < across; bx++, n++) {
      const blocks: Float32Array[] = []
      for (let c = 0; c < planes.length; c++) {
        const stored = new Uint16Array(64)
        stored[0] = dc[c * across * down + n]
        for (let i = 1; i < 64; ) {
          if (next >= ac.length) return null
          const word = ac[next++]
          if (word === END_OF_BLOCK) break
          if (word >> 8 === 0xff) i += word & 0xff
          else stored[i++] = word
        }
        const block = Float32Array.from(ZIGZAG, (i) => halfToFloat(stored[i]))
        inverseDct(block)
        blocks.push(block)
      }
      if (planes.length === 3) differencesToRgb(blocks[0], blocks[1], blocks[2])
      for (const [c, plane] of planes.entries()) {
        for (let y = 8 * by; y < Math.min(8 * by + 8, rows); y++) {
          for (let x = 8 * bx; x < Math.min(8 * bx + 8, columns); x++) {
            value[0] = blocks[c][(y & 7) * 8 + (x & 7)]
            const half = bitsToHalf(bits[0])
            const result = table === undefined ? half : table[half]
            value[0] = halfToFloat(result)
            const word = bytes[c] === 2 ? result : bits[0]
            for (let b = 0; b < bytes[c]; b++) plane[(y * columns + x) * bytes[c] + b] = word >>> (8 * b)
          }
        }
      }
    }
  }
  return { planes, next }
}
