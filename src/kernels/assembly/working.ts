// The working picture of linear halves, eight pixels at a time. AssemblyScript.

import { CLIPPED, INVALID, log2, VALID } from './simd'

const ALL_GOOD: u64 = ((<u64>0x01010101) << 32) | 0x01010101
/** An infinite or NaN half has all these bits; a finite positive one is less. */
const EXPONENT: i32 = 0x7c00
/** 2^-14, the least half that is normal. */
const MIN_NORMAL: i32 = 0x0400

/**
 * @param halves RGB, interleaved
 * @param log    receives log2(luminance + floor), in a hole the last value before it
 * @param validity  receives INVALID, VALID or CLIPPED per pixel, one byte each
 * @param clip   the least half that counts as clipped
 * @param first  log2 luminance that stands for holes before the first good pixel
 */
export function working(
  halves: usize,
  log: usize,
  validity: usize,
  length: i32,
  wr: f32,
  wg: f32,
  wb: f32,
  floor: f32,
  clip: i32,
  first: f32,
): void {
  const wa = f32x4(wr, wg, wb, wr)
  const wm = f32x4(wg, wb, wr, wg)
  const wz = f32x4(wb, wr, wg, wb)
  const base = f32x4.splat(floor)
  const most = i32x4.splat(min(clip, EXPONENT))
  let holes = false
  let i = 0
  for (; i + 8 <= length; i += 8) {
    const from = halves + <usize>(6 * i)
    // Four pixels in each three vectors: r g b r, g b r g, b r g b.
    const a = v128.load16x4_u(from)
    const b = v128.load16x4_u(from, 8)
    const c = v128.load16x4_u(from, 16)
    const d = v128.load16x4_u(from, 24)
    const e = v128.load16x4_u(from, 32)
    const f = v128.load16x4_u(from, 40)
    const least = i32x4.min_s(i32x4.min_s(i32x4.min_s(a, b), i32x4.min_s(c, d)), i32x4.min_s(e, f))
    const top = i32x4.max_s(i32x4.max_s(i32x4.max_s(a, b), i32x4.max_s(c, d)), i32x4.max_s(e, f))
    const to = log + ((<usize>i) << 2)
    // Most pictures have nothing but normal, positive halves below the clip, which need only be shifted.
    const odd = v128.or(i32x4.lt_s(least, i32x4.splat(MIN_NORMAL)), i32x4.ge_s(top, most))
    if (!v128.any_true(odd)) {
      const x = luminance(f32x4.mul(wa, normal(a)), f32x4.mul(wm, normal(b)), f32x4.mul(wz, normal(c)))
      const y = luminance(f32x4.mul(wa, normal(d)), f32x4.mul(wm, normal(e)), f32x4.mul(wz, normal(f)))
      v128.store(to, log2(f32x4.add(x, base)))
      v128.store(to, log2(f32x4.add(y, base)), 16)
      store<u64>(validity + <usize>i, ALL_GOOD)
      continue
    }
    const x = luminance(f32x4.mul(wa, value(a)), f32x4.mul(wm, value(b)), f32x4.mul(wz, value(c)))
    const y = luminance(f32x4.mul(wa, value(d)), f32x4.mul(wm, value(e)), f32x4.mul(wz, value(f)))
    v128.store(to, log2(f32x4.add(lit(x), base)))
    v128.store(to, log2(f32x4.add(lit(y), base)), 16)
    for (let k = 0; k < 8; k++) {
      const found = trustOf(from + <usize>(6 * k), clip)
      store<u8>(validity + <usize>(i + k), <u8>found)
      if (found === INVALID) holes = true
    }
  }
  for (; i < length; i++) {
    const from = halves + <usize>(6 * i)
    const rgb = value(i32x4(load<u16>(from), load<u16>(from, 2), load<u16>(from, 4), 0))
    const weighed = f32x4.mul(wa, rgb)
    const light =
      f32x4.extract_lane(weighed, 0) + f32x4.extract_lane(weighed, 1) + f32x4.extract_lane(weighed, 2)
    const v = log2(f32x4.add(lit(f32x4.splat(light)), base))
    store<f32>(log + ((<usize>i) << 2), f32x4.extract_lane(v, 0))
    const found = trustOf(from, clip)
    store<u8>(validity + <usize>i, <u8>found)
    if (found === INVALID) holes = true
  }
  if (holes) fillHoles(log, validity, length, first)
}

/** Of one pixel. As signed integers halves are in the order of their values as long as one of two is positive. */
function trustOf(rgb: usize, clip: i32): i32 {
  const r: i32 = load<i16>(rgb)
  const g: i32 = load<i16>(rgb, 2)
  const b: i32 = load<i16>(rgb, 4)
  if ((r & EXPONENT) === EXPONENT || (g & EXPONENT) === EXPONENT || (b & EXPONENT) === EXPONENT)
    return INVALID
  return r < clip && g < clip && b < clip ? VALID : CLIPPED
}

/** Four normal positive halves, one per 32-bit lane, as floats. */
function normal(h: v128): v128 {
  return i32x4.add(i32x4.shl(h, 13), i32x4.splat(112 << 23))
}

/** Four halves as floats. Infinity and NaN come out as large numbers. */
function value(h: v128): v128 {
  const bits = i32x4.shl(v128.and(h, i32x4.splat(0x7fff)), 13)
  const sign = i32x4.shl(v128.and(h, i32x4.splat(0x8000)), 16)
  // A subnormal's bits below a 1 of 2^-14, which is then taken off.
  const small = f32x4.sub(i32x4.add(bits, i32x4.splat(113 << 23)), i32x4.splat(113 << 23))
  const size = v128.bitselect(
    small,
    i32x4.add(bits, i32x4.splat(112 << 23)),
    i32x4.lt_s(bits, i32x4.splat(1 << 23)),
  )
  return v128.or(size, sign)
}

/** Sums of three: a0 + a1 + a2, a3 + b0 + b1, b2 + b3 + c0, c1 + c2 + c3. */
export function luminance(a: v128, b: v128, c: v128): v128 {
  const x = v128.shuffle<f32>(v128.shuffle<f32>(a, b, 0, 3, 6, 6), c, 0, 1, 2, 5)
  const y = v128.shuffle<f32>(v128.shuffle<f32>(a, b, 1, 4, 7, 7), c, 0, 1, 2, 6)
  const z = v128.shuffle<f32>(v128.shuffle<f32>(a, b, 2, 5, 5, 5), c, 0, 1, 4, 7)
  return f32x4.add(f32x4.add(x, y), z)
}

/** No less than 0. */
function lit(light: v128): v128 {
  return f32x4.pmax(f32x4.splat(0), light)
}

function fillHoles(log: usize, validity: usize, length: i32, first: f32): void {
  let last = first
  for (let i = 0; i < length; i++) {
    const at = log + ((<usize>i) << 2)
    if (load<u8>(validity + <usize>i) === INVALID) store<f32>(at, last)
    else last = load<f32>(at)
  }
}
