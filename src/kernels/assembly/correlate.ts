// Sums for correlation and samples for alignment. AssemblyScript.
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
 * A plane at listed pixels under 4 x 4 taps.
 *
 * @param left   added to a pixel's column: the column of its first tap
 * @param top    added to its row
 * @param taps   4 weights across, then 4 down
 */
export function sample4(
  data: usize,
  width: i32,
  height: i32,
  column: usize,
  row: usize,
  length: i32,
  left: i32,
  top: i32,
  taps: usize,
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
    store<f32>(out + ((<usize>i) << 2), sum32(sum))
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
