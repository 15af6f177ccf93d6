// What kernels do with the four lanes of a vector, and what a byte of validity says. AssemblyScript.

/** Not finite, outside the frame, or hidden; as `src/match/working.ts` has them. */
export const INVALID: i32 = 0
export const VALID: i32 = 1
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

/** log2 of normal positive floats: the exponent, and 2 / ln 2 atanh((m - 1) / (m + 1)) of a mantissa from 0.7 to 1.4. */
export function log2(v: v128): v128 {
  // The mantissa's range is centred by counting exponents from sqrt(1/2).
  const from = i32x4.sub(v, i32x4.splat(0x3f3504f3))
  const exponent = i32x4.shr_s(from, 23)
  const m = i32x4.sub(v, i32x4.shl(exponent, 23))
  const one = f32x4.splat(1)
  const s = f32x4.div(f32x4.sub(m, one), f32x4.add(m, one))
  const q = f32x4.mul(s, s)
  // 2 / ln 2 over 1, 3, 5, 7: the series' next term is below 4e-8.
  let p = f32x4.add(f32x4.mul(q, f32x4.splat(0.41219858)), f32x4.splat(0.57707802))
  p = f32x4.add(f32x4.mul(q, p), f32x4.splat(0.96179669))
  p = f32x4.add(f32x4.mul(q, p), f32x4.splat(2.88539008))
  return f32x4.add(f32x4.convert_i32x4_s(exponent), f32x4.mul(s, p))
}

/** 2^v: the whole part goes to the exponent, and a series in what is left, which is below a half, to 1.2e-7. */
export function exp2(v: v128): v128 {
  const x = f32x4.pmax(f32x4.splat(-126), f32x4.pmin(f32x4.splat(126), v))
  const whole = f32x4.nearest(x)
  const f = f32x4.sub(x, whole)
  // ln(2)^k / k!
  let p = f32x4.add(f32x4.mul(f, f32x4.splat(1.540353e-4)), f32x4.splat(1.3333558e-3))
  p = f32x4.add(f32x4.mul(f, p), f32x4.splat(9.6181291e-3))
  p = f32x4.add(f32x4.mul(f, p), f32x4.splat(5.5504109e-2))
  p = f32x4.add(f32x4.mul(f, p), f32x4.splat(2.4022651e-1))
  p = f32x4.add(f32x4.mul(f, p), f32x4.splat(6.9314718e-1))
  p = f32x4.add(f32x4.mul(f, p), f32x4.splat(1))
  return i32x4.add(p, i32x4.shl(i32x4.trunc_sat_f32x4_s(whole), 23))
}
