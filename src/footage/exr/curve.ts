// The curve on which DWA transforms its samples. Source: OpenEXR 3.1 (dwaLookups).
import { codecs, wordsIn } from '../../kernels/codecs.js'
import { bitsToHalf, halfToFloat } from '../../raster/half.js'

let linear: Uint16Array | undefined

/**
 * Half to half, from DWA's curve to linear light: a power of 2.2 up to 1, exponential above (so that it bends smoothly),
 * odd about 0. Made at the first use; infinity and NaN become 0.
 */
export function linearFromCurve(): Uint16Array {
  if (linear !== undefined) return linear
  // it stays where the kernels find it
  const table = wordsIn(
    codecs()
      .hold()
      .bytes(2 * 65536),
  ).fill(0)
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
