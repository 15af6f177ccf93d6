// What kernels do with the four lanes of a vector, and what a byte of trust says. AssemblyScript.

/** Not finite, outside the frame, or hidden; as `src/match/working.ts` has them. */
export const HOLE: i32 = 0
export const GOOD: i32 = 1
export const CLIPPED: i32 = 2

/** Four bytes, one per 32-bit lane. */
export function fourBytes(at: usize): v128 {
  return i32x4.extend_low_i16x8_u(i16x8.extend_low_i8x16_u(v128.load32_zero(at)))
}

/** Sum of four float32 in float32. */
export function sum32(v: v128): f32 {
  return (
    f32x4.extract_lane(v, 0) +
    f32x4.extract_lane(v, 1) +
    (f32x4.extract_lane(v, 2) + f32x4.extract_lane(v, 3))
  )
}

/** Sum of four float32 in float64. */
export function sum64(v: v128): f64 {
  const low = f64x2.promote_low_f32x4(v)
  const high = f64x2.promote_low_f32x4(v128.shuffle<f64>(v, v, 1, 0))
  const sum = f64x2.add(low, high)
  return f64x2.extract_lane(sum, 0) + f64x2.extract_lane(sum, 1)
}
