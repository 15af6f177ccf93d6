// Channels of interleaved RGB, float32, and means of such pictures. AssemblyScript.

import { fourBytes, log2 } from './simd'
import { luminance } from './working'

/** One channel by itself. @param channel 0 to 2 */
export function takeChannel(rgb: usize, channel: i32, out: usize, length: i32): void {
  const from = rgb + <usize>(4 * channel)
  for (let i: usize = 0; i < <usize>length; i++) store<f32>(out + (i << 2), load<f32>(from + i * 12))
}

/** ... and back to its place. */
export function putChannel(plane: usize, channel: i32, rgb: usize, length: i32): void {
  const to = rgb + <usize>(4 * channel)
  for (let i: usize = 0; i < <usize>length; i++) store<f32>(to + i * 12, load<f32>(plane + (i << 2)))
}

/** log2 of the mean of all three and `floor`, of which below 0 and not finite counts as 0. @param floor above 0 */
export function meanLogs(rgb: usize, out: usize, length: i32, floor: f32): void {
  let i: usize = 0
  for (; i + 4 <= <usize>length; i += 4) {
    const at = rgb + i * 12
    const sum = luminance(v128.load(at), v128.load(at, 16), v128.load(at, 32))
    v128.store(out + (i << 2), meanLog(sum, floor))
  }
  for (; i < <usize>length; i++) {
    const at = rgb + i * 12
    const sum = f32x4.splat(load<f32>(at) + load<f32>(at, 4) + load<f32>(at, 8))
    store<f32>(out + (i << 2), f32x4.extract_lane(meanLog(sum, floor), 0))
  }
}

function meanLog(sum: v128, floor: f32): v128 {
  const zero = f32x4.splat(0)
  // Of infinity and of NaN nothing is left over.
  const mean = v128.and(f32x4.eq(f32x4.sub(sum, sum), zero), f32x4.mul(sum, f32x4.splat(1.0 / 3.0)))
  return log2(f32x4.add(f32x4.pmax(zero, mean), f32x4.splat(floor)))
}

/** Marks pixels that have a sample that is not finite with 1, the others with 0. @returns how many there are */
export function markHoles(rgb: usize, out: usize, length: i32): i32 {
  const zero = f32x4.splat(0)
  let count = 0
  for (let i: usize = 0; i < <usize>length; i++) {
    const at = rgb + i * 12
    if (i + 4 <= <usize>length) {
      const a = v128.load(at)
      const b = v128.load(at, 16)
      const c = v128.load(at, 32)
      // Of infinity and of NaN nothing is left over.
      const left = v128.or(f32x4.sub(a, a), v128.or(f32x4.sub(b, b), f32x4.sub(c, c)))
      if (!v128.any_true(f32x4.ne(left, zero))) {
        store<u32>(out + i, 0)
        i += 3
        continue
      }
    }
    const r = load<f32>(at)
    const g = load<f32>(at, 4)
    const b = load<f32>(at, 8)
    const hole = r - r !== 0 || g - g !== 0 || b - b !== 0
    store<u8>(out + i, hole ? 1 : 0)
    if (hole) count++
  }
  return count
}

/**
 * Adds a donor's pixels to a mean: `raw += w * picture` and `matched += w * lit * gain`, with w = weight * there * share; where
 * that is 0 nothing changes.
 *
 * @param there  a byte per pixel, 0 or 1
 * @param share  per pixel, room up to a multiple of four; 0: 1 everywhere
 * @param raw    0: nobody asks for it
 * @param total  receives the sum of w per pixel
 */
export function addLent(
  picture: usize,
  lit: usize,
  there: usize,
  share: usize,
  weight: f32,
  red: f32,
  green: f32,
  blue: f32,
  raw: usize,
  matched: usize,
  total: usize,
  length: i32,
): void {
  const zero = f32x4.splat(0)
  const ga = f32x4(red, green, blue, red)
  const gb = f32x4(green, blue, red, green)
  const gc = f32x4(blue, red, green, blue)
  let i: usize = 0
  for (; i + 4 <= <usize>length; i += 4) {
    let w = f32x4.mul(f32x4.splat(weight), f32x4.convert_i32x4_s(fourBytes(there + i)))
    if (share !== 0) w = f32x4.mul(w, v128.load(share + (i << 2)))
    if (!v128.any_true(f32x4.ne(w, zero))) continue
    const sums = total + (i << 2)
    v128.store(sums, f32x4.add(v128.load(sums), w))
    const at = i * 12
    if (raw !== 0) {
      addThird(picture + at, v128.shuffle<f32>(w, w, 0, 0, 0, 1), raw + at)
      addThird(picture + at + 16, v128.shuffle<f32>(w, w, 1, 1, 2, 2), raw + at + 16)
      addThird(picture + at + 32, v128.shuffle<f32>(w, w, 2, 3, 3, 3), raw + at + 32)
    }
    addThirdLit(lit + at, v128.shuffle<f32>(w, w, 0, 0, 0, 1), ga, matched + at)
    addThirdLit(lit + at + 16, v128.shuffle<f32>(w, w, 1, 1, 2, 2), gb, matched + at + 16)
    addThirdLit(lit + at + 32, v128.shuffle<f32>(w, w, 2, 3, 3, 3), gc, matched + at + 32)
  }
  for (; i < <usize>length; i++) {
    let w = weight * <f32>load<u8>(there + i)
    if (share !== 0) w *= load<f32>(share + (i << 2))
    if (w === 0) continue
    store<f32>(total + (i << 2), load<f32>(total + (i << 2)) + w)
    for (let c: usize = 0; c < 3; c++) {
      const at = i * 12 + (c << 2)
      const gain = c === 0 ? red : c === 1 ? green : blue
      if (raw !== 0) store<f32>(raw + at, load<f32>(raw + at) + w * load<f32>(picture + at))
      store<f32>(matched + at, load<f32>(matched + at) + w * load<f32>(lit + at) * gain)
    }
  }
}

/** Four samples of it. */
function addThird(picture: usize, w: v128, raw: usize): void {
  const own = v128.and(f32x4.ne(w, f32x4.splat(0)), f32x4.mul(w, v128.load(picture)))
  v128.store(raw, f32x4.add(v128.load(raw), own))
}

function addThirdLit(lit: usize, w: v128, gain: v128, matched: usize): void {
  const on = f32x4.ne(w, f32x4.splat(0))
  const asLit = v128.and(on, f32x4.mul(f32x4.mul(w, v128.load(lit)), gain))
  v128.store(matched, f32x4.add(v128.load(matched), asLit))
}

/**
 * The same of a donor that lends every pixel: `raw += weight * picture` and `matched += weight * lit * gain`.
 *
 * @param raw     0: nobody asks for it
 * @param isFirst both are written over, as if they had been 0
 */
export function addWhole(
  picture: usize,
  lit: usize,
  weight: f32,
  red: f32,
  green: f32,
  blue: f32,
  raw: usize,
  matched: usize,
  isFirst: bool,
  length: i32,
): void {
  const w = f32x4.splat(weight)
  const one = f32x4.splat(1)
  if (raw !== 0) sumInto(picture, w, one, one, one, raw, isFirst, length)
  const ga = f32x4(red, green, blue, red)
  const gb = f32x4(green, blue, red, green)
  const gc = f32x4(blue, red, green, blue)
  sumInto(lit, w, ga, gb, gc, matched, isFirst, length)
}

function sumInto(
  picture: usize,
  w: v128,
  ga: v128,
  gb: v128,
  gc: v128,
  sum: usize,
  isFirst: bool,
  length: i32,
): void {
  // Whole vectors up to the end of the buffers, which have room for them.
  const end = <usize>length * 12
  for (let i: usize = 0; i < end; i += 48) {
    sumFour(picture + i, w, ga, sum + i, isFirst)
    if (i + 16 < end) sumFour(picture + i + 16, w, gb, sum + i + 16, isFirst)
    if (i + 32 < end) sumFour(picture + i + 32, w, gc, sum + i + 32, isFirst)
  }
}

function sumFour(picture: usize, w: v128, gain: v128, sum: usize, isFirst: bool): void {
  const own = f32x4.mul(f32x4.mul(w, v128.load(picture)), gain)
  v128.store(sum, f32x4.add(isFirst ? f32x4.splat(0) : v128.load(sum), own))
}

/** Samples of interleaved RGB times a factor of their channel; none comes out as -0. @param out may be `picture` */
export function gained(picture: usize, red: f32, green: f32, blue: f32, out: usize, length: i32): void {
  const zero = f32x4.splat(0)
  const ga = f32x4(red, green, blue, red)
  const gb = f32x4(green, blue, red, green)
  const gc = f32x4(blue, red, green, blue)
  // Whole vectors up to the end of the buffers, which have room for them.
  const end = <usize>length * 12
  for (let i: usize = 0; i < end; i += 48) {
    v128.store(out + i, f32x4.add(zero, f32x4.mul(v128.load(picture + i), ga)))
    if (i + 16 < end) v128.store(out + i + 16, f32x4.add(zero, f32x4.mul(v128.load(picture + i + 16), gb)))
    if (i + 32 < end) v128.store(out + i + 32, f32x4.add(zero, f32x4.mul(v128.load(picture + i + 32), gc)))
  }
}

/**
 * Sums become means: where some donors have a hole, the others' shares make up for it.
 *
 * @param raw   0: nobody asks for it
 * @param total of the weights per pixel
 * @param there receives a byte per pixel: 1 where any lends, else 0
 * @returns how many lend
 */
export function evened(raw: usize, matched: usize, total: usize, there: usize, length: i32): i32 {
  let count = 0
  for (let i: usize = 0; i < <usize>length; i++) {
    const w = <f64>load<f32>(total + (i << 2))
    const lends = w > 0
    store<u8>(there + i, lends ? 1 : 0)
    if (lends) count++
    if (w === 0 || abs(w - 1) <= 1e-6) continue
    const scale = 1 / w
    for (let at = i * 12; at < i * 12 + 12; at += 4) {
      if (raw !== 0) store<f32>(raw + at, <f32>(<f64>load<f32>(raw + at) * scale))
      store<f32>(matched + at, <f32>(<f64>load<f32>(matched + at) * scale))
    }
  }
  return count
}

/**
 * Multiplies interleaved RGB by a surface: at column x of a row, of each channel, `across[x]` times the row's start times its
 * step to the power of x. All three have R, G and B side by side, float64.
 */
export function multiplyField(
  data: usize,
  across: usize,
  starts: usize,
  steps: usize,
  width: i32,
  height: i32,
  out: usize,
): void {
  let at = data
  let to = out
  for (let y: usize = 0; y < <usize>height; y++) {
    const row: usize = 24 * y
    let r = load<f64>(starts + row)
    let g = load<f64>(starts + row, 8)
    let b = load<f64>(starts + row, 16)
    const stepR = load<f64>(steps + row)
    const stepG = load<f64>(steps + row, 8)
    const stepB = load<f64>(steps + row, 16)
    const end = <usize>width * 24
    for (let x: usize = 0; x < end; x += 24, at += 12, to += 12) {
      store<f32>(to, <f32>(<f64>load<f32>(at) * (load<f64>(across + x) * r)))
      store<f32>(to, <f32>(<f64>load<f32>(at, 4) * (load<f64>(across + x, 8) * g)), 4)
      store<f32>(to, <f32>(<f64>load<f32>(at, 8) * (load<f64>(across + x, 16) * b)), 8)
      r *= stepR
      g *= stepG
      b *= stepB
    }
  }
}

/** What is not finite becomes 0. @param data room up to a multiple of four */
export function zeroHoles(data: usize, length: i32): void {
  const end = (<usize>length) << 2
  const zero = f32x4.splat(0)
  for (let i: usize = 0; i < end; i += 16) {
    const v = v128.load(data + i)
    // Of infinity and of NaN nothing is left over.
    v128.store(data + i, v128.and(v, f32x4.eq(f32x4.sub(v, v), zero)))
  }
}
