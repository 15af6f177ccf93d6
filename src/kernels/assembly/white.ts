// White noise of a normal distribution, the same always from the same state. AssemblyScript; told in float64.

/** What a state grows by from one number to the next, and what its bits are mixed by: mulberry32. */
const STEP: i32 = 0x6d2b79f5

/**
 * Samples of variance 1, two from each pair of even numbers that lies in the unit circle, by the polar form of Box and Muller.
 * Four even numbers are made at a time: none of them depends on another.
 *
 * @param state what the even numbers begin from
 * @param out   float32
 */
export function whiteNoise(state: i32, out: usize, length: i32): void {
  const end = out + ((<usize>length) << 2)
  const next = i32x4.splat(4 * STEP)
  let states = i32x4.add(i32x4.splat(state), i32x4(STEP, 2 * STEP, 3 * STEP, 4 * STEP))
  while (out < end) {
    const bits = mixed(states)
    states = i32x4.add(states, next)
    // Of each pair one in either vector.
    const u = even(v128.shuffle<i32>(bits, bits, 0, 2, 0, 2))
    const v = even(v128.shuffle<i32>(bits, bits, 1, 3, 1, 3))
    const s = f64x2.add(f64x2.mul(u, u), f64x2.mul(v, v))
    const scale = f64x2.sqrt(f64x2.div(f64x2.mul(f64x2.splat(-2), log(s)), s))
    const a = f32x4.demote_f64x2_zero(f64x2.mul(u, scale))
    const b = f32x4.demote_f64x2_zero(f64x2.mul(v, scale))
    const both = v128.shuffle<i32>(a, b, 0, 4, 1, 5)
    const isInside = v128.and(f64x2.lt(s, f64x2.splat(1)), f64x2.gt(s, f64x2.splat(0)))
    const first = <usize>i32x4.extract_lane(isInside, 0) & 8
    const second = <usize>i32x4.extract_lane(isInside, 2) & 8
    if (out + 16 <= end) {
      // What lies outside is written over by the next: to ask each time costs more, as no processor guesses it.
      v128.store64_lane(out, both, 0)
      v128.store64_lane(out + first, both, 1)
    } else {
      if (first !== 0) storeUpTo(end, out, both)
      if (second !== 0) storeUpTo(end, out + first, v128.shuffle<i32>(both, both, 2, 3, 2, 3))
    }
    out += first + second
  }
}

function storeUpTo(end: usize, out: usize, both: v128): void {
  if (out + 8 <= end) v128.store64_lane(out, both, 0)
  else if (out < end) v128.store32_lane(out, both, 0)
}

function mixed(state: v128): v128 {
  let t = i32x4.mul(v128.xor(state, i32x4.shr_u(state, 15)), v128.or(state, i32x4.splat(1)))
  const more = i32x4.mul(v128.xor(t, i32x4.shr_u(t, 7)), v128.or(t, i32x4.splat(61)))
  t = v128.xor(t, i32x4.add(t, more))
  return v128.xor(t, i32x4.shr_u(t, 14))
}

/** Between -1 and 1, of 32 bits each: of the two lower lanes. */
function even(bits: v128): v128 {
  return f64x2.sub(
    f64x2.mul(f64x2.convert_low_i32x4_u(bits), f64x2.splat(1.0 / 2147483648.0)),
    f64x2.splat(1),
  )
}

/** Bits of a float64 near the square root of a half, and of 1. */
const ROOT_HALF: i64 = 0x3fe6a09e00000000
const ONE: i64 = 0x3ff0000000000000
/** The exponent of 1 as it is stored. */
const BIAS: f64 = 1023

/**
 * Natural logarithm of normal numbers above 0: the exponent times ln 2, and 2 atanh((m - 1) / (m + 1)) of a mantissa m between
 * the roots of a half and of 2, to some 2e-16 of itself. M. Abramowitz, I. Stegun, Handbook of Mathematical Functions, 4.1.27.
 */
function log(v: v128): v128 {
  const from = i64x2.add(v, i64x2.splat(ONE - ROOT_HALF))
  const exponent = i64x2.shr_u(from, 52)
  const m = i64x2.sub(v, i64x2.sub(i64x2.shl(exponent, 52), i64x2.splat(ONE)))
  const one = f64x2.splat(1)
  const f = f64x2.div(f64x2.sub(m, one), f64x2.add(m, one))
  const q = f64x2.mul(f, f)
  // 2 over 3, 5, 7, ...: of f at most 0.172 the next term is below 1e-17 of the sum. In two halves, which wait for each other less.
  const q2 = f64x2.mul(q, q)
  let far = f64x2.splat(2.0 / 23.0)
  far = f64x2.add(f64x2.mul(far, q2), f64x2.splat(2.0 / 19.0))
  far = f64x2.add(f64x2.mul(far, q2), f64x2.splat(2.0 / 15.0))
  far = f64x2.add(f64x2.mul(far, q2), f64x2.splat(2.0 / 11.0))
  far = f64x2.add(f64x2.mul(far, q2), f64x2.splat(2.0 / 7.0))
  far = f64x2.add(f64x2.mul(far, q2), f64x2.splat(2.0 / 3.0))
  let near = f64x2.splat(2.0 / 21.0)
  near = f64x2.add(f64x2.mul(near, q2), f64x2.splat(2.0 / 17.0))
  near = f64x2.add(f64x2.mul(near, q2), f64x2.splat(2.0 / 13.0))
  near = f64x2.add(f64x2.mul(near, q2), f64x2.splat(2.0 / 9.0))
  near = f64x2.add(f64x2.mul(near, q2), f64x2.splat(2.0 / 5.0))
  const p = f64x2.add(far, f64x2.mul(near, q))
  const mantissa = f64x2.add(f64x2.mul(f, f64x2.splat(2)), f64x2.mul(f, f64x2.mul(q, p)))
  const whole = f64x2.convert_low_i32x4_u(v128.shuffle<i32>(exponent, exponent, 0, 2, 0, 2))
  return f64x2.add(f64x2.mul(f64x2.sub(whole, f64x2.splat(BIAS)), f64x2.splat(Math.LN2)), mantissa)
}
