// Noise under a filter, mixed into channels. AssemblyScript.

import { strengthAt } from './light'

/**
 * Adds a field under a filter where it is wanted: `into += takes * sum of weights * field`. Beyond its edges the field begins
 * again from the other side.
 *
 * @param field   of the size of `into`
 * @param around  room for it with half the filter's side more samples on every side
 * @param weights side x side
 * @param takes   per sample; four neighbours of which none takes any are passed over
 */
export function addFiltered(
  field: usize,
  around: usize,
  weights: usize,
  side: i32,
  takes: usize,
  into: usize,
  width: i32,
  height: i32,
): void {
  const room = side >> 1
  const stride = width + 2 * room
  for (let y = 0; y < height + 2 * room; y++) {
    const from = field + ((<usize>(goneRound(y - room, height) * width)) << 2)
    const to = around + ((<usize>(y * stride)) << 2)
    memory.copy(to + ((<usize>room) << 2), from, (<usize>width) << 2)
    for (let x = 0; x < room; x++) {
      const before = <usize>goneRound(x - room, width)
      const after = <usize>goneRound(width + x, width)
      store<f32>(to + ((<usize>x) << 2), load<f32>(from + (before << 2)))
      store<f32>(to + ((<usize>(room + width + x)) << 2), load<f32>(from + (after << 2)))
    }
  }
  for (let y = 0; y < height; y++) {
    const row = (<usize>(y * width)) << 2
    let x = 0
    // Four sums side by side: one by itself waits for each of its additions.
    for (; x + 16 <= width; x += 16) {
      const at = row + ((<usize>x) << 2)
      const any = v128.or(
        v128.or(isTaken(takes + at), isTaken(takes + at + 16)),
        v128.or(isTaken(takes + at + 32), isTaken(takes + at + 48)),
      )
      if (!v128.any_true(any)) continue
      let a = f32x4.splat(0)
      let b = a
      let c = a
      let d = a
      let weight = weights
      for (let v = 0; v < side; v++) {
        let from = around + ((<usize>((y + v) * stride + x)) << 2)
        for (let u = 0; u < side; u++) {
          const w = v128.load32_splat(weight)
          a = f32x4.add(a, f32x4.mul(w, v128.load(from)))
          b = f32x4.add(b, f32x4.mul(w, v128.load(from, 16)))
          c = f32x4.add(c, f32x4.mul(w, v128.load(from, 32)))
          d = f32x4.add(d, f32x4.mul(w, v128.load(from, 48)))
          weight += 4
          from += 4
        }
      }
      addTaken(takes + at, a, into + at)
      addTaken(takes + at + 16, b, into + at + 16)
      addTaken(takes + at + 32, c, into + at + 32)
      addTaken(takes + at + 48, d, into + at + 48)
    }
    for (; x + 4 <= width; x += 4) {
      const at = row + ((<usize>x) << 2)
      const some = v128.load(takes + at)
      if (!v128.any_true(f32x4.ne(some, f32x4.splat(0)))) continue
      let sum = f32x4.splat(0)
      let weight = weights
      for (let v = 0; v < side; v++) {
        let from = around + ((<usize>((y + v) * stride + x)) << 2)
        for (let u = 0; u < side; u++) {
          sum = f32x4.add(sum, f32x4.mul(v128.load32_splat(weight), v128.load(from)))
          weight += 4
          from += 4
        }
      }
      v128.store(into + at, f32x4.add(v128.load(into + at), f32x4.mul(some, sum)))
    }
    for (; x < width; x++) {
      const at = row + ((<usize>x) << 2)
      const some = load<f32>(takes + at)
      if (some === 0) continue
      let sum: f32 = 0
      let weight = weights
      for (let v = 0; v < side; v++) {
        let from = around + ((<usize>((y + v) * stride + x)) << 2)
        for (let u = 0; u < side; u++) {
          sum += load<f32>(weight) * load<f32>(from)
          weight += 4
          from += 4
        }
      }
      store<f32>(into + at, load<f32>(into + at) + some * sum)
    }
  }
}

function isTaken(takes: usize): v128 {
  return f32x4.ne(v128.load(takes), f32x4.splat(0))
}

/** Four samples; where none is taken they stay bit for bit. */
function addTaken(takes: usize, sum: v128, into: usize): void {
  if (!v128.any_true(isTaken(takes))) return
  v128.store(into, f32x4.add(v128.load(into), f32x4.mul(v128.load(takes), sum)))
}

function goneRound(i: i32, n: i32): i32 {
  const left = i % n
  return left < 0 ? left + n : left
}

/** Products, sample by sample. @param out room up to a multiple of four samples, as all have */
export function products(a: usize, b: usize, out: usize, length: i32): void {
  const end = (<usize>length) << 2
  for (let i: usize = 0; i < end; i += 16) v128.store(out + i, f32x4.mul(v128.load(a + i), v128.load(b + i)))
}

/** A field as it is after one more frame: `carried` of it, and of white noise the rest, told in float64. Buffers as above. */
export function carryOn(field: usize, carried: f64, white: usize, rest: f64, out: usize, length: i32): void {
  const end = (<usize>length) << 2
  const a = f64x2.splat(carried)
  const b = f64x2.splat(rest)
  for (let i: usize = 0; i < end; i += 8) {
    const sum = f64x2.add(f64x2.mul(a, two(field + i)), f64x2.mul(b, two(white + i)))
    v128.store64_lane(out + i, f32x4.demote_f64x2_zero(sum), 0)
  }
}

function two(at: usize): v128 {
  return f64x2.promote_low_f32x4(v128.load64_zero(at))
}

/**
 * Adds noise to interleaved RGB: of each channel a mixture of three fields, and where that is not 0, `level * max(darkest, light) **
 * power` times it, the light being the sample itself.
 *
 * @param first,second,third components, with room up to a multiple of four samples; 0: there is none
 * @param mix                float32, [3, 3]: of each channel what it takes of them
 * @param level, power       float32, of each channel
 */
export function layNoise(
  data: usize,
  first: usize,
  second: usize,
  third: usize,
  mix: usize,
  level: usize,
  power: usize,
  darkest: f32,
  length: i32,
): void {
  const zero = f32x4.splat(0)
  const last = length - 1
  for (let i = 0; i < length; i += 4) {
    const at = (<usize>i) << 2
    const f = first === 0 ? zero : v128.load(first + at)
    const s = second === 0 ? zero : v128.load(second + at)
    const t = third === 0 ? zero : v128.load(third + at)
    if (!v128.any_true(f32x4.ne(v128.or(v128.or(f, s), t), zero))) continue
    for (let c: usize = 0; c < 3; c++) {
      const m = mix + 12 * c
      let own = f32x4.add(zero, f32x4.mul(v128.load32_splat(m), f))
      own = f32x4.add(own, f32x4.mul(v128.load32_splat(m, 4), s))
      own = f32x4.add(own, f32x4.mul(v128.load32_splat(m, 8), t))
      if (!v128.any_true(f32x4.ne(own, zero))) continue
      const to = data + (c << 2)
      const p0 = to + <usize>i * 12
      const p1 = to + <usize>min(i + 1, last) * 12
      const p2 = to + <usize>min(i + 2, last) * 12
      const p3 = to + <usize>min(i + 3, last) * 12
      const light = f32x4(load<f32>(p0), load<f32>(p1), load<f32>(p2), load<f32>(p3))
      const strength = strengthAt(light, load<f32>(level + (c << 2)), load<f32>(power + (c << 2)), darkest)
      const sum = v128.bitselect(f32x4.add(light, f32x4.mul(strength, own)), light, f32x4.ne(own, zero))
      store<f32>(p0, f32x4.extract_lane(sum, 0))
      if (i + 1 < length) store<f32>(p1, f32x4.extract_lane(sum, 1))
      if (i + 2 < length) store<f32>(p2, f32x4.extract_lane(sum, 2))
      if (i + 3 < length) store<f32>(p3, f32x4.extract_lane(sum, 3))
    }
  }
}
