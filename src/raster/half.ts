// IEEE 754 binary16 (half float) to and from float32, by tables. After J. van der Zijp, Fast Half Float Conversions
// (2008); differs: rounds to nearest, ties to even, as IEEE 754-2019 4.3.1 wants, where the paper truncates.

/** The largest finite half. */
export const HALF_MAX = 65504
/** The bits of a half that is not a number: no picture there. */
export const HALF_NAN = 0x7e00

/** Index: the top 9 bits of a float32 (sign and exponent). How to make the half: base + round((mantissa | hidden) >> shift). */
const base = new Uint16Array(512)
const shift = new Uint8Array(512)
const hidden = new Uint32Array(512)
for (let exponent = 0; exponent < 256; exponent++) {
  for (const sign of [0, 1]) {
    const i = (sign << 8) | exponent
    base[i] = sign << 15
    // 24 bits are shifted out where nothing of the mantissa is to remain: it is below 2^23, half of 2^24, so it rounds to 0.
    shift[i] = 24
    if (exponent >= 143) {
      base[i] |= 0x7c00
    } else if (exponent >= 113) {
      base[i] |= (exponent - 112) << 10
      shift[i] = 13
    } else if (exponent >= 102) {
      // A subnormal half counts in 2^-24. The mantissa's hidden 1 becomes visible.
      hidden[i] = 0x800000
      shift[i] = 126 - exponent
    }
  }
}

/** Value of each of the 65,536 halves. */
export const HALF_VALUES = new Float32Array(65536)
{
  const bits = new Uint32Array(HALF_VALUES.buffer)
  for (let h = 0; h < 65536; h++) {
    const sign = (h & 0x8000) << 16
    const exponent = (h >> 10) & 31
    const mantissa = h & 0x3ff
    if (exponent === 0) HALF_VALUES[h] = (h & 0x8000 ? -1 : 1) * mantissa * 2 ** -24
    else bits[h] = sign | ((exponent === 31 ? 255 : exponent + 112) << 23) | (mantissa << 13)
  }
}

/**
 * Halves nearest to float32 samples, ties to even; values from 65520 up become infinity, NaN stays NaN (quiet).
 *
 * @param source float32 samples
 * @param target where the 16-bit patterns go, at least as long as `source`
 */
export function floatsToHalves(source: Float32Array, target: Uint16Array): void {
  const bits = new Uint32Array(source.buffer, source.byteOffset, source.length)
  for (let i = 0; i < bits.length; i++) target[i] = bitsToHalf(bits[i])
}

/**
 * The values of halves; every half is a float32, so nothing is lost.
 *
 * @param source 16-bit patterns
 * @param target where the float32 samples go, at least as long as `source`
 */
export function halvesToFloats(source: Uint16Array, target: Float32Array): void {
  for (let i = 0; i < source.length; i++) target[i] = HALF_VALUES[source[i]]
}

/** The half nearest to the float32 with these 32 bits. */
export function bitsToHalf(bits: number): number {
  const i = bits >>> 23
  const mantissa = bits & 0x7fffff
  if ((i & 255) === 255 && mantissa !== 0) return base[i] | 0x200 | (mantissa >>> 13)
  const all = mantissa | hidden[i]
  const s = shift[i]
  // Half a unit less one, plus the last bit that stays: rounds to nearest and breaks a tie towards the even neighbour. A
  // carry out of the mantissa lands in the exponent, which is the right answer, up to and including infinity.
  return base[i] + ((all + (1 << (s - 1)) - 1 + ((all >>> s) & 1)) >>> s)
}

/** The value of one half. */
export function halfToFloat(half: number): number {
  return HALF_VALUES[half]
}
