// Comparing pictures pixel by pixel: what differs. AssemblyScript.

import { fourBytes, INVALID, VALID } from './simd'

/** 1 where a pixel is VALID and within `sigmas` spreads plus `stops` of a level, one byte each. */
export function markWithin(
  aligned: usize,
  validity: usize,
  light: f32,
  level: usize,
  spread: usize,
  sigmas: f32,
  stops: f32,
  length: i32,
  out: usize,
): void {
  let i = 0
  const good = i32x4.splat(VALID)
  for (; i + 4 <= length; i += 4) {
    const byte = (<usize>i) << 2
    const off = f32x4.abs(
      f32x4.sub(f32x4.add(v128.load(aligned + byte), f32x4.splat(light)), v128.load(level + byte)),
    )
    const most = f32x4.add(f32x4.mul(f32x4.splat(sigmas), v128.load(spread + byte)), f32x4.splat(stops))
    const shown = fourBytes(validity + <usize>i)
    storeBytes(out + <usize>i, v128.and(f32x4.le(off, most), i32x4.eq(shown, good)))
  }
  for (; i < length; i++) {
    const byte = (<usize>i) << 2
    const off = abs(load<f32>(aligned + byte) + light - load<f32>(level + byte))
    const most = sigmas * load<f32>(spread + byte) + stops
    store<u8>(out + <usize>i, load<u8>(validity + <usize>i) === VALID && off <= most ? 1 : 0)
  }
}

/** Four lanes, 0 or -1, as bytes 0 or 1. */
function storeBytes(out: usize, lanes: v128): void {
  const words = i16x8.narrow_i32x4_s(lanes, lanes)
  const bytes = v128.and(i8x16.narrow_i16x8_s(words, words), i8x16.splat(1))
  v128.store32_lane(out, bytes, 0)
}

/**
 * Marks what differs from a level: 1 where the mean difference over a pixel's 3 x 3 neighbours that are no holes, plus
 * `light`, is beyond both bounds, and in holes; else 0.
 *
 * @param left  the part that is looked at, in pixels of the window
 * @param sums  room for width + 2 samples
 * @param counts likewise
 */
export function markOutliers(
  aligned: usize,
  validity: usize,
  light: f32,
  level: usize,
  spread: usize,
  sigmas: f32,
  stops: f32,
  width: i32,
  height: i32,
  left: i32,
  top: i32,
  right: i32,
  bottom: i32,
  sums: usize,
  counts: usize,
  out: usize,
): void {
  const from = max(0, left - 1)
  const to = min(width, right + 1)
  // One sample before the row's first and one after its last, for the neighbours beyond the edges.
  store<f32>(sums, 0)
  store<f32>(counts, 0)
  store<f32>(sums + ((<usize>(width + 1)) << 2), 0)
  store<f32>(counts + ((<usize>(width + 1)) << 2), 0)
  for (let y = top; y < bottom; y++) {
    const first = max(0, y - 1)
    const last = min(height - 1, y + 1)
    let x = from
    for (; x + 4 <= to; x += 4) {
      let sum = f32x4.splat(0)
      let count = f32x4.splat(0)
      for (let v = first; v <= last; v++) {
        const i = <usize>(v * width + x)
        const shown = shownAt(validity + i)
        const off = f32x4.sub(v128.load(aligned + (i << 2)), v128.load(level + (i << 2)))
        sum = f32x4.add(sum, v128.and(off, shown))
        count = f32x4.add(count, v128.and(f32x4.splat(1), shown))
      }
      v128.store(sums + ((<usize>(x + 1)) << 2), sum)
      v128.store(counts + ((<usize>(x + 1)) << 2), count)
    }
    for (; x < to; x++) {
      let sum: f32 = 0
      let count: f32 = 0
      for (let v = first; v <= last; v++) {
        const i = <usize>(v * width + x)
        if (load<u8>(validity + i) === INVALID) continue
        sum += load<f32>(aligned + (i << 2)) - load<f32>(level + (i << 2))
        count += 1
      }
      store<f32>(sums + ((<usize>(x + 1)) << 2), sum)
      store<f32>(counts + ((<usize>(x + 1)) << 2), count)
    }
    for (x = left; x + 4 <= right; x += 4) {
      const i = <usize>(y * width + x)
      const at = (<usize>x) << 2
      const mean = f32x4.div(three(sums + at), three(counts + at))
      const off = f32x4.abs(f32x4.add(mean, f32x4.splat(light)))
      const wide = f32x4.mul(f32x4.splat(sigmas), v128.load(spread + (i << 2)))
      const beyond = v128.and(f32x4.gt(off, f32x4.splat(stops)), f32x4.gt(off, wide))
      storeBytes(out + i, v128.or(beyond, v128.not(shownAt(validity + i))))
    }
    for (; x < right; x++) {
      const i = <usize>(y * width + x)
      const at = (<usize>x) << 2
      const sum = load<f32>(sums + at) + load<f32>(sums + at, 4) + load<f32>(sums + at, 8)
      const count = load<f32>(counts + at) + load<f32>(counts + at, 4) + load<f32>(counts + at, 8)
      const off = abs(sum / count + light)
      const beyond = off > stops && off > sigmas * load<f32>(spread + (i << 2))
      store<u8>(out + i, beyond || load<u8>(validity + i) === INVALID ? 1 : 0)
    }
  }
}

/** -1 per lane where a byte is no hole. */
function shownAt(validity: usize): v128 {
  return i32x4.ne(fourBytes(validity), i32x4.splat(INVALID))
}

function three(at: usize): v128 {
  return f32x4.add(f32x4.add(v128.load(at), v128.load(at, 4)), v128.load(at, 8))
}
