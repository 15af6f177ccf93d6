// The arithmetic of DWA blocks: 8 x 8 inverse cosine transform, colour differences back to RGB, and the curve on which
// the samples were transformed. Source: OpenEXR 3.1 (ImfDwaCompressor, dwaLookups) for order and constants; the transform
// is the orthonormal DCT (Ahmed, Natarajan & Rao, 1974).
import { bitsToHalf, halfToFloat } from '../../raster/half.js'

/** Where each of 64 coefficients, row by row, lies in the zigzag order in which they are stored (ITU-T T.81, fig. A.6). */
export const ZIGZAG = zigzag()

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
export function inverseDct(block: Float32Array): void {
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
export function differencesToRgb(y: Float32Array, cb: Float32Array, cr: Float32Array): void {
  for (let i = 0; i < 64; i++) {
    const [luma, blue, red] = [y[i]!, cb[i]!, cr[i]!]
    y[i] = luma + 1.5747 * red
    cb[i] = luma - 0.1873 * blue - 0.4682 * red
    cr[i] = luma + 1.8556 * blue
  }
}

let linear: Uint16Array | undefined

/**
 * Half to half, from DWA's curve to linear light: a power of 2.2 up to 1, exponential above (so that it bends smoothly),
 * odd about 0. Made at the first use; infinity and NaN become 0.
 */
export function linearFromCurve(): Uint16Array {
  if (linear !== undefined) return linear
  const table = new Uint16Array(65536)
  const scratch = new Float32Array(1)
  const bits = new Uint32Array(scratch.buffer)
  const base = Math.E ** 2.2
  for (let half = 0; half < 65536; half++) {
    if ((half & 0x7c00) === 0x7c00) continue
    const value = halfToFloat(half)
    const size = Math.abs(value)
    scratch[0] = Math.sign(value) * (size <= 1 ? size ** 2.2 : base ** (size - 1))
    table[half] = bitsToHalf(bits[0]!)
  }
  linear = table
  return table
}
