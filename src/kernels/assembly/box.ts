// Means over squares, and what differs from them. AssemblyScript.

/**
 * The mean over a square of 2 radius + 1 samples, at the edges over what of it lies inside, by running sums in float64: across,
 * each row's mean rounded to float32, then down.
 *
 * @param across room for width * height float32, and as many more up to a multiple of four
 * @param sums   room for width float64, and one more
 * @param out    may be `source`
 */
export function boxMean(
  source: usize,
  across: usize,
  sums: usize,
  out: usize,
  width: i32,
  height: i32,
  radius: i32,
): void {
  let rows = 0
  for (; rows + 4 <= height; rows += 4) fourRowMeans(source, across, rows * width, width, radius)
  for (; rows < height; rows++) rowMean(source, across, rows * width, width, radius)
  memory.fill(sums, 0, (<usize>(width + 1)) << 3)
  let n = 0
  for (let y = -radius; y < height; y++) {
    const added = y + radius
    const dropped = y - radius - 1
    const next = across + ((<usize>(added * width)) << 2)
    const last = across + ((<usize>(dropped * width)) << 2)
    const to = out + ((<usize>(y * width)) << 2)
    if (added < height && dropped >= 0) {
      slide(next, last, sums, to, width, <f64>n)
      continue
    }
    if (added < height) {
      n++
      addRow(next, sums, width, 1)
    }
    if (dropped >= 0) {
      n--
      addRow(last, sums, width, -1)
    }
    if (y >= 0) giveMean(sums, to, width, <f64>n)
  }
}

/** Sums over a count. */
function giveMean(sums: usize, to: usize, width: i32, n: f64): void {
  const count = f64x2.splat(n)
  let x = 0
  for (; x + 4 <= width; x += 4) {
    const at = sums + ((<usize>x) << 3)
    const low = f64x2.div(v128.load(at), count)
    const high = f64x2.div(v128.load(at, 16), count)
    v128.store(to + ((<usize>x) << 2), narrow(low, high))
  }
  for (; x < width; x++) store<f32>(to + ((<usize>x) << 2), <f32>(load<f64>(sums + ((<usize>x) << 3)) / n))
}

/** A row enters, another leaves, and the mean of what is left is given, in one go. */
function slide(next: usize, last: usize, sums: usize, to: usize, width: i32, n: f64): void {
  const count = f64x2.splat(n)
  let x = 0
  for (; x + 4 <= width; x += 4) {
    const i = (<usize>x) << 2
    const at = sums + (i << 1)
    const a = v128.load(next + i)
    const b = v128.load(last + i)
    const low = f64x2.sub(f64x2.add(v128.load(at), lower(a)), lower(b))
    const high = f64x2.sub(f64x2.add(v128.load(at, 16), upper(a)), upper(b))
    v128.store(at, low)
    v128.store(at, high, 16)
    v128.store(to + i, narrow(f64x2.div(low, count), f64x2.div(high, count)))
  }
  for (; x < width; x++) {
    const i = (<usize>x) << 2
    const at = sums + (i << 1)
    const sum = load<f64>(at) + <f64>load<f32>(next + i) - <f64>load<f32>(last + i)
    store<f64>(at, sum)
    store<f32>(to + i, <f32>(sum / n))
  }
}

function lower(v: v128): v128 {
  return f64x2.promote_low_f32x4(v)
}

function upper(v: v128): v128 {
  return f64x2.promote_low_f32x4(v128.shuffle<f64>(v, v, 1, 0))
}

function narrow(low: v128, high: v128): v128 {
  return v128.shuffle<f64>(f32x4.demote_f64x2_zero(low), f32x4.demote_f64x2_zero(high), 0, 2)
}

/** Of four rows below each other, side by side: a sum by itself waits for each of its additions. */
function fourRowMeans(source: usize, across: usize, start: i32, width: i32, radius: i32): void {
  const row = (<usize>width) << 2
  const from = source + ((<usize>start) << 2)
  const to = across + ((<usize>start) << 2)
  let one = f64x2.splat(0)
  let two = one
  let n = 0
  for (let x = 0; x < min(radius, width); x++, n++) {
    const v = column(from + ((<usize>x) << 2), row)
    one = f64x2.add(one, lower(v))
    two = f64x2.add(two, upper(v))
  }
  for (let x = 0; x < width; x++) {
    if (x + radius < width) {
      const v = column(from + ((<usize>(x + radius)) << 2), row)
      one = f64x2.add(one, lower(v))
      two = f64x2.add(two, upper(v))
      n++
    }
    if (x - radius - 1 >= 0) {
      const v = column(from + ((<usize>(x - radius - 1)) << 2), row)
      one = f64x2.sub(one, lower(v))
      two = f64x2.sub(two, upper(v))
      n--
    }
    const count = f64x2.splat(<f64>n)
    const mean = narrow(f64x2.div(one, count), f64x2.div(two, count))
    const at = to + ((<usize>x) << 2)
    v128.store32_lane(at, mean, 0)
    v128.store32_lane(at + row, mean, 1)
    v128.store32_lane(at + 2 * row, mean, 2)
    v128.store32_lane(at + 3 * row, mean, 3)
  }
}

/** Four samples below each other. @param row bytes from one to the next */
function column(at: usize, row: usize): v128 {
  const a = v128.load32_zero(at)
  const b = v128.load32_lane(at + row, a, 1)
  const c = v128.load32_lane(at + 2 * row, b, 2)
  return v128.load32_lane(at + 3 * row, c, 3)
}

function rowMean(source: usize, across: usize, start: i32, width: i32, radius: i32): void {
  const from = source + ((<usize>start) << 2)
  const to = across + ((<usize>start) << 2)
  let sum: f64 = 0
  let n = 0
  for (let x = 0; x < min(radius, width); x++, n++) sum += <f64>load<f32>(from + ((<usize>x) << 2))
  for (let x = 0; x < width; x++) {
    if (x + radius < width) {
      sum += <f64>load<f32>(from + ((<usize>(x + radius)) << 2))
      n++
    }
    if (x - radius - 1 >= 0) {
      sum -= <f64>load<f32>(from + ((<usize>(x - radius - 1)) << 2))
      n--
    }
    store<f32>(to + ((<usize>x) << 2), <f32>(sum / <f64>n))
  }
}

/** Adds `sign` times a row, which is exact. */
function addRow(row: usize, sums: usize, width: i32, sign: f64): void {
  const factor = f64x2.splat(sign)
  let x = 0
  for (; x + 4 <= width; x += 4) {
    const v = v128.load(row + ((<usize>x) << 2))
    const at = sums + ((<usize>x) << 3)
    const low = f64x2.mul(factor, f64x2.promote_low_f32x4(v))
    const high = f64x2.mul(factor, f64x2.promote_low_f32x4(v128.shuffle<f64>(v, v, 1, 0)))
    v128.store(at, f64x2.add(v128.load(at), low))
    v128.store(at, f64x2.add(v128.load(at, 16), high), 16)
  }
  for (; x < width; x++) {
    const at = sums + ((<usize>x) << 3)
    store<f64>(at, load<f64>(at) + sign * <f64>load<f32>(row + ((<usize>x) << 2)))
  }
}

/**
 * Local variance of what differs from the local mean: squares of it, averaged over a square, none below 0.
 *
 * @param data   is written over
 * @param mean   room for as much; so `across`; `sums` as above
 */
export function detailVariance(
  data: usize,
  mean: usize,
  across: usize,
  sums: usize,
  width: i32,
  height: i32,
  detail: i32,
  around: i32,
): void {
  boxMean(data, across, sums, mean, width, height, detail)
  const end = (<usize>(width * height)) << 2
  for (let i: usize = 0; i < end; i += 16) {
    const off = f32x4.sub(v128.load(data + i), v128.load(mean + i))
    v128.store(data + i, f32x4.mul(off, off))
  }
  boxMean(data, across, sums, data, width, height, around)
  for (let i: usize = 0; i < end; i += 16)
    v128.store(data + i, f32x4.pmax(f32x4.splat(0), v128.load(data + i)))
}

/** Brings what differs from the local mean down to `stays` of it; where that is 1 nothing changes. Buffers as above. */
export function keepDetail(
  data: usize,
  mean: usize,
  across: usize,
  sums: usize,
  stays: usize,
  width: i32,
  height: i32,
  detail: i32,
): void {
  boxMean(data, across, sums, mean, width, height, detail)
  const end = (<usize>(width * height)) << 2
  const one = f32x4.splat(1)
  for (let i: usize = 0; i < end; i += 16) {
    const share = v128.load(stays + i)
    const own = v128.load(data + i)
    const base = v128.load(mean + i)
    const less = f32x4.add(base, f32x4.mul(share, f32x4.sub(own, base)))
    v128.store(data + i, v128.bitselect(less, own, f32x4.lt(share, one)))
  }
}
