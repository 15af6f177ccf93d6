// Filters on planes of float32 samples, row-major, four samples at a time. Pointers are bytes into the linear memory;
// what a picture's size must be is checked where these are called. AssemblyScript, compiled by `npm run kernels`.
import { fourBytes, sum64 } from './simd'

/**
 * [1 4 6 4 1] / 16 both ways, edge samples repeated.
 *
 * @param line room for width + 4 samples
 */
export function smooth(source: usize, out: usize, line: usize, width: i32, height: i32): void {
  const row = (<usize>width) << 2
  const inner = line + 8
  const end = inner + row
  for (let y = 0; y < height; y++) {
    const a = source + <usize>max(0, y - 2) * row
    const b = source + <usize>max(0, y - 1) * row
    const c = source + <usize>y * row
    const d = source + <usize>min(height - 1, y + 1) * row
    const e = source + <usize>min(height - 1, y + 2) * row
    let i: usize = 0
    for (; i + 16 <= row; i += 16) {
      v128.store(
        inner + i,
        binomial(v128.load(a + i), v128.load(b + i), v128.load(c + i), v128.load(d + i), v128.load(e + i)),
      )
    }
    for (; i < row; i += 4) {
      const outer = load<f32>(a + i) + load<f32>(e + i)
      const near = load<f32>(b + i) + load<f32>(d + i)
      store<f32>(inner + i, (outer + 4 * near + 6 * load<f32>(c + i)) * 0.0625)
    }
    const first = load<f32>(inner)
    const last = load<f32>(end - 4)
    store<f32>(line, first)
    store<f32>(line + 4, first)
    store<f32>(end, last)
    store<f32>(end + 4, last)
    const to = out + <usize>y * row
    for (i = 0; i + 16 <= row; i += 16) {
      const at = line + i
      v128.store(
        to + i,
        binomial(v128.load(at), v128.load(at, 4), v128.load(at, 8), v128.load(at, 12), v128.load(at, 16)),
      )
    }
    for (; i < row; i += 4) {
      const at = line + i
      const outer = load<f32>(at) + load<f32>(at, 16)
      const near = load<f32>(at, 4) + load<f32>(at, 12)
      store<f32>(to + i, (outer + 4 * near + 6 * load<f32>(at, 8)) * 0.0625)
    }
  }
}

function binomial(a: v128, b: v128, c: v128, d: v128, e: v128): v128 {
  const near = f32x4.mul(f32x4.splat(4), f32x4.add(b, d))
  const outer = f32x4.add(f32x4.add(a, e), near)
  return f32x4.mul(f32x4.splat(0.0625), f32x4.add(outer, f32x4.mul(f32x4.splat(6), c)))
}

/** Means of 2 x 2 samples; an odd last row or column is left out. */
export function halve(source: usize, out: usize, width: i32, height: i32): void {
  const row = (<usize>width) << 2
  const half = width >> 1
  const quarter = f32x4.splat(0.25)
  for (let y = 0; y < height >> 1; y++) {
    let a = source + <usize>(2 * y) * row
    let b = a + row
    let to = out + ((<usize>y * <usize>half) << 2)
    let x = 0
    for (; x + 4 <= half; x += 4) {
      const left = f32x4.add(v128.load(a), v128.load(b))
      const right = f32x4.add(v128.load(a, 16), v128.load(b, 16))
      const even = v128.shuffle<f32>(left, right, 0, 2, 4, 6)
      const odd = v128.shuffle<f32>(left, right, 1, 3, 5, 7)
      v128.store(to, f32x4.mul(quarter, f32x4.add(even, odd)))
      a += 32
      b += 32
      to += 16
    }
    for (; x < half; x++) {
      const sum = load<f32>(a) + load<f32>(b) + load<f32>(a, 4) + load<f32>(b, 4)
      store<f32>(to, 0.25 * sum)
      a += 8
      b += 8
      to += 4
    }
  }
}

/**
 * Takes from `out` the mean of `source` over a square of 2 radius + 1 samples, at the edges over what of it lies inside.
 *
 * @param line room for width + 2 radius samples
 */
export function subtractBoxMean(
  source: usize,
  out: usize,
  line: usize,
  width: i32,
  height: i32,
  radius: i32,
): void {
  const row = (<usize>width) << 2
  const inner = line + ((<usize>radius) << 2)
  const span = 2 * radius + 1
  for (let k = 0; k < radius; k++) {
    store<f32>(line + ((<usize>k) << 2), 0)
    store<f32>(inner + row + ((<usize>k) << 2), 0)
  }
  for (let y = 0; y < height; y++) {
    const from = max(0, y - radius)
    const to = min(height - 1, y + radius)
    const down: f32 = <f32>1 / <f32>(to - from + 1)
    let i: usize = 0
    for (; i + 16 <= row; i += 16) {
      let sum = f32x4.splat(0)
      for (let v = from; v <= to; v++) sum = f32x4.add(sum, v128.load(source + <usize>v * row + i))
      v128.store(inner + i, f32x4.mul(sum, f32x4.splat(down)))
    }
    for (; i < row; i += 4) {
      let sum: f32 = 0
      for (let v = from; v <= to; v++) sum += load<f32>(source + <usize>v * row + i)
      store<f32>(inner + i, sum * down)
    }
    const target = out + <usize>y * row
    let x = 0
    const whole: f32 = <f32>1 / <f32>span
    // Beyond the ends of the line lie zeros; there fewer samples count.
    for (; x < min(radius, width); x++) edge(line, target, x, width, radius)
    for (; x + 4 <= width - radius; x += 4) {
      const at = line + ((<usize>x) << 2)
      let sum = f32x4.splat(0)
      for (let k = 0; k <= 2 * radius; k++) sum = f32x4.add(sum, v128.load(at + ((<usize>k) << 2)))
      const place = target + ((<usize>x) << 2)
      v128.store(place, f32x4.sub(v128.load(place), f32x4.mul(sum, f32x4.splat(whole))))
    }
    for (; x < width; x++) edge(line, target, x, width, radius)
  }
}

function edge(line: usize, target: usize, x: i32, width: i32, radius: i32): void {
  let sum: f32 = 0
  for (let k = 0; k <= 2 * radius; k++) sum += load<f32>(line + ((<usize>(x + k)) << 2))
  const n = min(width - 1, x + radius) - max(0, x - radius) + 1
  const place = target + ((<usize>x) << 2)
  store<f32>(place, load<f32>(place) - sum / <f32>n)
}

/** v becomes v / (knee + |v|), in place. */
export function softSign(data: usize, length: i32, knee: f32): void {
  const end = data + ((<usize>length) << 2)
  const bend = f32x4.splat(knee)
  let at = data
  for (; at + 16 <= end; at += 16) {
    const v = v128.load(at)
    v128.store(at, f32x4.div(v, f32x4.add(bend, f32x4.abs(v))))
  }
  for (; at < end; at += 4) {
    const v = load<f32>(at)
    store<f32>(at, v / (knee + abs(v)))
  }
}

/**
 * Sums of the squared central differences where `weight` is more than 0 and both bytes are 1 of the pixel and its four
 * neighbours, of which a difference is made; edge pixels left out.
 *
 * @param first, second one byte per pixel, 0 or 1; null pointers: all 1
 * @param sums receives the sum and how many pixels counted, float64
 */
export function gradientSquares(
  data: usize,
  weight: usize,
  first: usize,
  second: usize,
  width: i32,
  height: i32,
  sums: usize,
): void {
  const row = (<usize>width) << 2
  let sum: f64 = 0
  let count: f64 = 0
  for (let y = 1; y + 1 < height; y++) {
    const at = data + <usize>y * row
    const weights = weight + <usize>y * row
    const pixel = <usize>y * <usize>width
    let squares = f32x4.splat(0)
    let counted = f32x4.splat(0)
    let i: usize = 4
    for (; i + 16 <= row - 4; i += 16) {
      const here = at + i
      const gx = f32x4.sub(v128.load(here + 4), v128.load(here - 4))
      const gy = f32x4.sub(v128.load(here + row), v128.load(here - row))
      let on = f32x4.gt(v128.load(weights + i), f32x4.splat(0))
      if (first) {
        const bytes = pixel + (i >> 2)
        const both = v128.and(fourAround(first + bytes, width), fourAround(second + bytes, width))
        on = v128.and(on, i32x4.ne(both, i32x4.splat(0)))
      }
      squares = f32x4.add(squares, v128.and(on, f32x4.add(f32x4.mul(gx, gx), f32x4.mul(gy, gy))))
      counted = f32x4.add(counted, v128.and(on, f32x4.splat(1)))
    }
    sum += sum64(squares)
    count += sum64(counted)
    for (; i < row - 4; i += 4) {
      if (!(load<f32>(weights + i) > 0)) continue
      const bytes = pixel + (i >> 2)
      if (first && (around(first + bytes, width) & around(second + bytes, width)) === 0) continue
      const here = at + i
      const gx: f64 = load<f32>(here + 4) - load<f32>(here - 4)
      const gy: f64 = load<f32>(here + row) - load<f32>(here - row)
      sum += gx * gx + gy * gy
      count += 1
    }
  }
  store<f64>(sums, sum / 4)
  store<f64>(sums, count, 8)
}

/** Not 0 where a byte and its four neighbours all are 1. */
function around(at: usize, width: i32): u8 {
  const row = <usize>width
  return load<u8>(at) & load<u8>(at - 1) & load<u8>(at + 1) & load<u8>(at - row) & load<u8>(at + row)
}

/** The same of four in a row. */
function fourAround(at: usize, width: i32): v128 {
  const row = <usize>width
  const beside = v128.and(fourBytes(at - 1), fourBytes(at + 1))
  const above = v128.and(fourBytes(at - row), fourBytes(at + row))
  return v128.and(fourBytes(at), v128.and(beside, above))
}
