// Sums for correlation, and differences and sums for alignment. AssemblyScript.
import { sum32 } from './simd'

/**
 * What a correlation needs of a donor under a reference's weights, row by row: float32 within a row, float64 across rows.
 *
 * @param weight  of the reference, `stride` samples a row, at the first pixel that is compared
 * @param product weight times reference, likewise
 * @param donor   at the pixel that comes to lie there, `donorStride` samples a row
 * @param step    every so many rows
 * @param sums    receives the sums of w d, w d d, w r d, float64
 */
export function correlate(
  weight: usize,
  product: usize,
  stride: i32,
  donor: usize,
  donorStride: i32,
  width: i32,
  height: i32,
  step: i32,
  sums: usize,
): void {
  let first: f64 = 0
  let second: f64 = 0
  let cross: f64 = 0
  const end = (<usize>width) << 2
  for (let y = 0; y < height; y += step) {
    const w = weight + ((<usize>y * <usize>stride) << 2)
    const p = product + ((<usize>y * <usize>stride) << 2)
    const d = donor + ((<usize>y * <usize>donorStride) << 2)
    let a = f32x4.splat(0)
    let b = f32x4.splat(0)
    let c = f32x4.splat(0)
    let i: usize = 0
    for (; i + 16 <= end; i += 16) {
      const v = v128.load(d + i)
      const wv = f32x4.mul(v, v128.load(w + i))
      a = f32x4.add(a, wv)
      b = f32x4.add(b, f32x4.mul(wv, v))
      c = f32x4.add(c, f32x4.mul(v, v128.load(p + i)))
    }
    let rest1: f32 = sum32(a)
    let rest2: f32 = sum32(b)
    let rest3: f32 = sum32(c)
    for (; i < end; i += 4) {
      const v = load<f32>(d + i)
      const wv: f32 = v * load<f32>(w + i)
      rest1 += wv
      rest2 += wv * v
      rest3 += v * load<f32>(p + i)
    }
    first += rest1
    second += rest2
    cross += rest3
  }
  store<f64>(sums, first)
  store<f64>(sums, second, 8)
  store<f64>(sums, cross, 16)
}

/**
 * A plane at listed pixels under 4 x 4 taps, less a value at each.
 *
 * @param left   added to a pixel's column: the column of its first tap
 * @param top    added to its row
 * @param taps   4 weights across, then 4 down
 * @param value  float32, one per pixel
 */
export function differ4(
  data: usize,
  width: i32,
  height: i32,
  column: usize,
  row: usize,
  length: i32,
  left: i32,
  top: i32,
  taps: usize,
  value: usize,
  out: usize,
): void {
  const across = v128.load(taps)
  const a = v128.load32_splat(taps, 16)
  const b = v128.load32_splat(taps, 20)
  const c = v128.load32_splat(taps, 24)
  const d = v128.load32_splat(taps, 28)
  const stride = (<usize>width) << 2
  for (let i = 0; i < length; i++) {
    const x = load<i32>(column + ((<usize>i) << 2)) + left
    const y = load<i32>(row + ((<usize>i) << 2)) + top
    let p: v128
    let q: v128
    let r: v128
    let s: v128
    if (x >= 0 && y >= 0 && x + 4 <= width && y + 4 <= height) {
      const at = data + ((<usize>(y * width + x)) << 2)
      p = v128.load(at)
      q = v128.load(at + stride)
      r = v128.load(at + 2 * stride)
      s = v128.load(at + 3 * stride)
    } else {
      p = edgeRow(data, width, height, x, y)
      q = edgeRow(data, width, height, x, y + 1)
      r = edgeRow(data, width, height, x, y + 2)
      s = edgeRow(data, width, height, x, y + 3)
    }
    const upper = f32x4.add(f32x4.mul(a, p), f32x4.mul(b, q))
    const lower = f32x4.add(f32x4.mul(c, r), f32x4.mul(d, s))
    const sum = f32x4.mul(across, f32x4.add(upper, lower))
    const at = (<usize>i) << 2
    store<f32>(out + at, sum32(sum) - load<f32>(value + at))
  }
}

/** Four samples of a row; the edge's are repeated beyond it. */
function edgeRow(data: usize, width: i32, height: i32, x: i32, y: i32): v128 {
  const line = data + ((<usize>(min(max(y, 0), height - 1) * width)) << 2)
  let v = f32x4.splat(load<f32>(line + ((<usize>min(max(x, 0), width - 1)) << 2)))
  v = f32x4.replace_lane(v, 1, load<f32>(line + ((<usize>min(max(x + 1, 0), width - 1)) << 2)))
  v = f32x4.replace_lane(v, 2, load<f32>(line + ((<usize>min(max(x + 2, 0), width - 1)) << 2)))
  return f32x4.replace_lane(v, 3, load<f32>(line + ((<usize>min(max(x + 3, 0), width - 1)) << 2)))
}

/**
 * Normal equations for an offset's steps and a bias under J. Tukey's weights: two samples' weights at once, sums one after the
 * other.
 *
 * @param gradientX, gradientY, residual, weight float32, one per pixel
 * @param centre of the residuals
 * @param flat   variance of what grain alone leaves
 * @param edge   the same per squared gradient
 * @param capped residuals beyond the root of this many variances don't count
 * @param sums   receives xx, xy, yy, x1, y1, ww, xr, yr, rr, float64
 */
export function normalEquations(
  gradientX: usize,
  gradientY: usize,
  residual: usize,
  weight: usize,
  length: i32,
  centre: f64,
  flat: f64,
  edge: f64,
  capped: f64,
  sums: usize,
): void {
  let xxxy = f64x2.splat(0)
  let yyww = f64x2.splat(0)
  let x1y1 = f64x2.splat(0)
  let xryr = f64x2.splat(0)
  let rr: f64 = 0
  const one = f64x2.splat(1)
  for (let i = 0; i < length; i += 2) {
    const at = (<usize>i) << 2
    const isLast = i + 1 === length
    const gx = two(gradientX + at, isLast)
    const gy = two(gradientY + at, isLast)
    const r = f64x2.sub(two(residual + at, isLast), f64x2.splat(centre))
    const square = f64x2.add(f64x2.mul(gx, gx), f64x2.mul(gy, gy))
    const variance = f64x2.add(f64x2.splat(flat), f64x2.mul(f64x2.splat(edge), square))
    const uu = f64x2.div(f64x2.mul(r, r), f64x2.mul(f64x2.splat(capped), variance))
    const near = f64x2.sub(one, uu)
    const shown = f64x2.mul(f64x2.mul(near, near), two(weight + at, isLast))
    const all = f64x2.mul(shown, f64x2.div(f64x2.splat(flat), variance))
    const k = v128.andnot(all, f64x2.ge(uu, one))
    const kx = f64x2.mul(k, gx)
    const ky = f64x2.mul(k, gy)
    const kxx = f64x2.mul(kx, gx)
    const kxy = f64x2.mul(kx, gy)
    const kyy = f64x2.mul(ky, gy)
    const kxr = f64x2.mul(kx, r)
    const kyr = f64x2.mul(ky, r)
    const kr = f64x2.mul(k, r)
    xxxy = f64x2.add(xxxy, first(kxx, kxy))
    yyww = f64x2.add(yyww, first(kyy, k))
    x1y1 = f64x2.add(x1y1, first(kx, ky))
    xryr = f64x2.add(xryr, first(kxr, kyr))
    rr += f64x2.extract_lane(kr, 0)
    if (isLast) break
    xxxy = f64x2.add(xxxy, second(kxx, kxy))
    yyww = f64x2.add(yyww, second(kyy, k))
    x1y1 = f64x2.add(x1y1, second(kx, ky))
    xryr = f64x2.add(xryr, second(kxr, kyr))
    rr += f64x2.extract_lane(kr, 1)
  }
  store<f64>(sums, f64x2.extract_lane(xxxy, 0))
  store<f64>(sums, f64x2.extract_lane(xxxy, 1), 8)
  store<f64>(sums, f64x2.extract_lane(yyww, 0), 16)
  v128.store(sums, x1y1, 24)
  store<f64>(sums, f64x2.extract_lane(yyww, 1), 40)
  v128.store(sums, xryr, 48)
  store<f64>(sums, rr, 64)
}

/** Two float32 as float64; of the last one alone that one and 0. */
function two(at: usize, isLast: boolean): v128 {
  return f64x2.promote_low_f32x4(isLast ? v128.load32_zero(at) : v128.load64_zero(at))
}

/** The first lanes of two vectors side by side. */
function first(a: v128, b: v128): v128 {
  return v128.shuffle<f64>(a, b, 0, 2)
}

function second(a: v128, b: v128): v128 {
  return v128.shuffle<f64>(a, b, 1, 3)
}

/** The sum of squared differences from a centre, each in float32 and at most `most`. */
export function cappedSquares(values: usize, length: i32, centre: f32, most: f64): f64 {
  let sum: f64 = 0
  for (let i = 0; i < length; i++) {
    const off: f64 = load<f32>(values + ((<usize>i) << 2)) - centre
    sum += min(most, off * off)
  }
  return sum
}
