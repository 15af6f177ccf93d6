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
  for (let y = 0; y < height; y++) rowMean(source, across, y * width, width, radius)
  memory.fill(sums, 0, (<usize>(width + 1)) << 3)
  let n = 0
  for (let y = -radius; y < height; y++) {
    const added = y + radius
    if (added < height) {
      n++
      addRow(across + ((<usize>(added * width)) << 2), sums, width, 1)
    }
    const dropped = y - radius - 1
    if (dropped >= 0) {
      n--
      addRow(across + ((<usize>(dropped * width)) << 2), sums, width, -1)
    }
    if (y < 0) continue
    const to = out + ((<usize>(y * width)) << 2)
    const count = f64x2.splat(<f64>n)
    let x = 0
    for (; x + 4 <= width; x += 4) {
      const at = sums + ((<usize>x) << 3)
      const low = f32x4.demote_f64x2_zero(f64x2.div(v128.load(at), count))
      const high = f32x4.demote_f64x2_zero(f64x2.div(v128.load(at, 16), count))
      v128.store(to + ((<usize>x) << 2), v128.shuffle<f32>(low, high, 0, 1, 4, 5))
    }
    for (; x < width; x++)
      store<f32>(to + ((<usize>x) << 2), <f32>(load<f64>(sums + ((<usize>x) << 3)) / <f64>n))
  }
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
