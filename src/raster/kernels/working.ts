// The working picture of linear halves, eight pixels at a time. AssemblyScript.

const HOLE = 0
const GOOD = 1
const CLIPPED: i16 = 2
/** An infinite or NaN half has all these bits. */
const EXPONENT: i16 = 0x7c00
/** 2^-14; as signed integers negative halves are less, too. */
const LEAST_NORMAL: i16 = 0x0400

/**
 * @param halves RGB, interleaved
 * @param log    receives log2(luminance + floor), a hole the last value before it
 * @param trust  receives HOLE, GOOD or CLIPPED per pixel, one byte each
 * @param clip   linear light from which a channel counts as clipped
 * @param first  log2 luminance that stands for holes before the first good pixel
 */
export function working(
  halves: usize,
  log: usize,
  trust: usize,
  length: i32,
  wr: f32,
  wg: f32,
  wb: f32,
  floor: f32,
  clip: f32,
  first: f32,
): void {
  let holes = i32x4.splat(0)
  const exponent = i16x8.splat(EXPONENT)
  const least = i16x8.splat(LEAST_NORMAL)
  let i = 0
  for (; i + 8 <= length; i += 8) {
    const from = halves + <usize>(6 * i)
    const a = v128.load(from)
    const b = v128.load(from, 16)
    const c = v128.load(from, 32)
    // a: r g b r g b r g   b: b r g b r g b r   c: g b r g b r g b
    const r = v128.shuffle<u16>(
      v128.shuffle<u16>(a, b, 0, 3, 6, 9, 12, 15, 0, 0),
      c,
      0,
      1,
      2,
      3,
      4,
      5,
      10,
      13,
    )
    const g = v128.shuffle<u16>(
      v128.shuffle<u16>(a, b, 1, 4, 7, 10, 13, 0, 0, 0),
      c,
      0,
      1,
      2,
      3,
      4,
      8,
      11,
      14,
    )
    const bl = v128.shuffle<u16>(
      v128.shuffle<u16>(a, b, 2, 5, 8, 11, 14, 0, 0, 0),
      c,
      0,
      1,
      2,
      3,
      4,
      9,
      12,
      15,
    )
    const bad = v128.or(
      v128.or(i16x8.eq(v128.and(r, exponent), exponent), i16x8.eq(v128.and(g, exponent), exponent)),
      i16x8.eq(v128.and(bl, exponent), exponent),
    )
    holes = v128.or(holes, bad)
    // Most pictures have nothing but normal positive halves, which need only be shifted.
    const odd = v128.any_true(
      v128.or(v128.or(i16x8.lt_s(r, least), i16x8.lt_s(g, least)), v128.or(i16x8.lt_s(bl, least), bad)),
    )
    const low = four(
      odd,
      i32x4.extend_low_i16x8_u(r),
      i32x4.extend_low_i16x8_u(g),
      i32x4.extend_low_i16x8_u(bl),
      log + ((<usize>i) << 2),
      wr,
      wg,
      wb,
      floor,
      clip,
    )
    const high = four(
      odd,
      i32x4.extend_high_i16x8_u(r),
      i32x4.extend_high_i16x8_u(g),
      i32x4.extend_high_i16x8_u(bl),
      log + ((<usize>(i + 4)) << 2),
      wr,
      wg,
      wb,
      floor,
      clip,
    )
    // 1 where every channel is below the clip, 2 elsewhere, 0 in holes.
    const words = v128.andnot(i16x8.add(i16x8.splat(CLIPPED), i16x8.narrow_i32x4_s(low, high)), bad)
    v128.store64_lane(trust + <usize>i, i8x16.narrow_i16x8_u(words, words), 0)
  }
  let found = v128.any_true(holes)
  for (; i < length; i++) {
    const from = halves + <usize>(6 * i)
    const r = i32x4.splat(load<u16>(from))
    const g = i32x4.splat(load<u16>(from, 2))
    const b = i32x4.splat(load<u16>(from, 4))
    const bad =
      (load<i16>(from) & EXPONENT) === EXPONENT ||
      (load<i16>(from, 2) & EXPONENT) === EXPONENT ||
      (load<i16>(from, 4) & EXPONENT) === EXPONENT
    const lum = luminance(value(r), value(g), value(b), wr, wg, wb)
    store<f32>(log + ((<usize>i) << 2), f32x4.extract_lane(log2(floored(lum, floor)), 0))
    const below = belowClip(value(r), value(g), value(b), clip)
    store<u8>(trust + <usize>i, bad ? HOLE : v128.any_true(below) ? GOOD : CLIPPED)
    found = found || bad
  }
  if (found) fillHoles(log, trust, length, first)
}

/** Log of four pixels, stored; returns -1 per pixel where every channel is below the clip. */
function four(
  odd: i32,
  r: v128,
  g: v128,
  b: v128,
  log: usize,
  wr: f32,
  wg: f32,
  wb: f32,
  floor: f32,
  clip: f32,
): v128 {
  const fr = odd ? value(r) : normal(r)
  const fg = odd ? value(g) : normal(g)
  const fb = odd ? value(b) : normal(b)
  v128.store(log, log2(floored(luminance(fr, fg, fb, wr, wg, wb), floor)))
  return belowClip(fr, fg, fb, clip)
}

/** Four halves, one per 32-bit lane, none of them below 2^-14, as floats. */
function normal(h: v128): v128 {
  return i32x4.add(i32x4.shl(h, 13), i32x4.splat(112 << 23))
}

/** Four halves, one per 32-bit lane, as floats. Infinity and NaN come out as large numbers. */
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

function luminance(r: v128, g: v128, b: v128, wr: f32, wg: f32, wb: f32): v128 {
  const rg = f32x4.add(f32x4.mul(f32x4.splat(wr), r), f32x4.mul(f32x4.splat(wg), g))
  return f32x4.add(rg, f32x4.mul(f32x4.splat(wb), b))
}

function floored(light: v128, floor: f32): v128 {
  return f32x4.add(f32x4.pmax(f32x4.splat(0), light), f32x4.splat(floor))
}

function belowClip(r: v128, g: v128, b: v128, clip: f32): v128 {
  const top = f32x4.splat(clip)
  return v128.and(v128.and(f32x4.lt(r, top), f32x4.lt(g, top)), f32x4.lt(b, top))
}

/** log2 of normal positive floats: the exponent, and 2 / ln 2 atanh((m - 1) / (m + 1)) of a mantissa from 0.7 to 1.4. */
function log2(v: v128): v128 {
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

function fillHoles(log: usize, trust: usize, length: i32, first: f32): void {
  let last = first
  for (let i = 0; i < length; i++) {
    const at = log + ((<usize>i) << 2)
    if (load<u8>(trust + <usize>i) === HOLE) store<f32>(at, last)
    else last = load<f32>(at)
  }
}
