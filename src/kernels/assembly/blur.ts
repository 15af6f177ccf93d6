// Means over squares by running sums, whatever the radius at the same cost. AssemblyScript.

/**
 * Three means over 2 radius + 1 samples each way, at the edges over what of them lies inside; in place. All three are
 * taken down the columns, which lie side by side in vectors, then the picture is turned for the other way.
 *
 * @param other room for as many samples
 * @param sums  room for as many float64 as the longer side has, and four more
 */
export function blur(data: usize, other: usize, sums: usize, width: i32, height: i32, radius: i32): void {
  threeMeans(data, other, sums, width, height, radius)
  transpose(other, data, width, height)
  threeMeans(data, other, sums, height, width, radius)
  transpose(other, data, height, width)
}

/** From `data` into `other`; `data` is written over. */
function threeMeans(data: usize, other: usize, sums: usize, width: i32, height: i32, radius: i32): void {
  means(data, other, sums, width, height, radius)
  means(other, data, sums, width, height, radius)
  means(data, other, sums, width, height, radius)
}

/** Down the columns. Sums are float64, or what is bright would leave its rounding in what is dark below it. */
function means(source: usize, out: usize, sums: usize, width: i32, height: i32, radius: i32): void {
  const row = (<usize>width) << 2
  memory.fill(sums, 0, row << 1)
  for (let y = 0; y < min(radius, height); y++) add(source + <usize>y * row, sums, row)
  for (let y = 0; y < height; y++) {
    const enters = y + radius < height
    const leaves = y - radius - 1 >= 0
    const next = source + <usize>(y + radius) * row
    const last = source + <usize>(y - radius - 1) * row
    const to = out + <usize>y * row
    const share: f64 = 1 / <f64>(min(height - 1, y + radius) - max(0, y - radius) + 1)
    if (enters && leaves) slide(next, last, sums, share, to, row)
    else {
      if (enters) add(next, sums, row)
      if (leaves) take(last, sums, row)
      give(sums, share, to, row)
    }
  }
}

function slide(next: usize, last: usize, sums: usize, share: f64, to: usize, row: usize): void {
  const scale = f64x2.splat(share)
  let i: usize = 0
  for (; i + 16 <= row; i += 16) {
    const at = sums + (i << 1)
    const a = v128.load(next + i)
    const b = v128.load(last + i)
    // What enters less what leaves, exactly, before it meets the sum.
    const low = f64x2.add(v128.load(at), f64x2.sub(f64x2.promote_low_f32x4(a), f64x2.promote_low_f32x4(b)))
    const high = f64x2.add(v128.load(at, 16), f64x2.sub(upper(a), upper(b)))
    v128.store(at, low)
    v128.store(at, high, 16)
    v128.store(to + i, narrow(f64x2.mul(low, scale), f64x2.mul(high, scale)))
  }
  for (; i < row; i += 4) {
    const at = sums + (i << 1)
    const sum = load<f64>(at) + (<f64>load<f32>(next + i) - <f64>load<f32>(last + i))
    store<f64>(at, sum)
    store<f32>(to + i, <f32>(sum * share))
  }
}

function add(from: usize, sums: usize, row: usize): void {
  for (let i: usize = 0; i < row; i += 4)
    store<f64>(sums + (i << 1), load<f64>(sums + (i << 1)) + <f64>load<f32>(from + i))
}

function take(from: usize, sums: usize, row: usize): void {
  for (let i: usize = 0; i < row; i += 4)
    store<f64>(sums + (i << 1), load<f64>(sums + (i << 1)) - <f64>load<f32>(from + i))
}

function give(sums: usize, share: f64, to: usize, row: usize): void {
  for (let i: usize = 0; i < row; i += 4) store<f32>(to + i, <f32>(load<f64>(sums + (i << 1)) * share))
}

function upper(v: v128): v128 {
  return f64x2.promote_low_f32x4(v128.shuffle<f64>(v, v, 1, 0))
}

function narrow(low: v128, high: v128): v128 {
  return v128.shuffle<f64>(f32x4.demote_f64x2_zero(low), f32x4.demote_f64x2_zero(high), 0, 2)
}

/** `out` has `height` columns and `width` rows. */
function transpose(source: usize, out: usize, width: i32, height: i32): void {
  const row = (<usize>width) << 2
  const column = (<usize>height) << 2
  let y = 0
  for (; y + 4 <= height; y += 4) {
    const from = source + <usize>y * row
    const to = out + ((<usize>y) << 2)
    let x = 0
    for (; x + 4 <= width; x += 4) {
      const at = from + ((<usize>x) << 2)
      const a = v128.load(at)
      const b = v128.load(at + row)
      const c = v128.load(at + 2 * row)
      const d = v128.load(at + 3 * row)
      const ab = v128.shuffle<f32>(a, b, 0, 4, 1, 5)
      const cd = v128.shuffle<f32>(c, d, 0, 4, 1, 5)
      const ba = v128.shuffle<f32>(a, b, 2, 6, 3, 7)
      const dc = v128.shuffle<f32>(c, d, 2, 6, 3, 7)
      const place = to + <usize>x * column
      v128.store(place, v128.shuffle<f64>(ab, cd, 0, 2))
      v128.store(place + column, v128.shuffle<f64>(ab, cd, 1, 3))
      v128.store(place + 2 * column, v128.shuffle<f64>(ba, dc, 0, 2))
      v128.store(place + 3 * column, v128.shuffle<f64>(ba, dc, 1, 3))
    }
    for (; x < width; x++) {
      for (let k = 0; k < 4; k++) {
        const sample = load<f32>(from + <usize>k * row + ((<usize>x) << 2))
        store<f32>(to + <usize>x * column + ((<usize>k) << 2), sample)
      }
    }
  }
  for (; y < height; y++) {
    for (let x = 0; x < width; x++) {
      const sample = load<f32>(source + <usize>y * row + ((<usize>x) << 2))
      store<f32>(out + <usize>x * column + ((<usize>y) << 2), sample)
    }
  }
}
