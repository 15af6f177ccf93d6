// Moves a picture by fractions of a pixel: the taps of a filter across, then down, four samples at a time. Pointers are bytes
// into the linear memory; what a picture's size must be is checked where this is called. AssemblyScript, compiled by `npm run kernels`.

/**
 * Moves a picture by the taps of a filter and cuts a rectangle from it; beyond the source its edge pixels are repeated.
 *
 * @param channels samples a pixel, side by side
 * @param left   column of the source under the first tap of the first pixel
 * @param top    its row
 * @param across `nx` weights
 * @param down   `ny` weights
 * @param padded room for width + nx - 1 pixels
 * @param lines  room for ny rows of `width` pixels
 */
export function shift(
  source: usize,
  sourceWidth: i32,
  sourceHeight: i32,
  channels: i32,
  left: i32,
  top: i32,
  across: usize,
  nx: i32,
  down: usize,
  ny: i32,
  out: usize,
  width: i32,
  height: i32,
  padded: usize,
  lines: usize,
): void {
  const pixel = (<usize>channels) << 2
  const row = <usize>width * pixel
  const inside = left >= 0 && left + width + nx - 1 <= sourceWidth
  let ready = top - 1
  for (let y = 0; y < height; y++) {
    // Rows that are already moved across are kept in turn.
    for (; ready < top + y + ny - 1; ) {
      ready++
      const from = source + <usize>(min(max(ready, 0), sourceHeight - 1) * sourceWidth) * pixel
      let start = from + <isize>left * <isize>pixel
      if (!inside) {
        start = padded
        for (let x = 0; x < width + nx - 1; x++) {
          const column = min(max(left + x, 0), sourceWidth - 1)
          for (let c: usize = 0; c < pixel; c += 4)
            store<f32>(padded + <usize>x * pixel + c, load<f32>(from + <usize>column * pixel + c))
        }
      }
      weigh(start, across, nx, pixel, lines + <usize>((ready - top) % ny) * row, row)
    }
    const to = out + <usize>y * row
    const first = y % ny
    let i: usize = 0
    // Four sums side by side: one by itself waits for each of its additions.
    for (; i + 64 <= row; i += 64) {
      let a = f32x4.splat(0)
      let b = a
      let c = a
      let d = a
      for (let k = 0, slot = first; k < ny; k++, slot = slot + 1 === ny ? 0 : slot + 1) {
        const weight = v128.load32_splat(down + ((<usize>k) << 2))
        const at = lines + <usize>slot * row + i
        a = f32x4.add(a, f32x4.mul(weight, v128.load(at)))
        b = f32x4.add(b, f32x4.mul(weight, v128.load(at, 16)))
        c = f32x4.add(c, f32x4.mul(weight, v128.load(at, 32)))
        d = f32x4.add(d, f32x4.mul(weight, v128.load(at, 48)))
      }
      v128.store(to + i, a)
      v128.store(to + i, b, 16)
      v128.store(to + i, c, 32)
      v128.store(to + i, d, 48)
    }
    for (; i + 16 <= row; i += 16) {
      let sum = f32x4.splat(0)
      for (let k = 0, slot = first; k < ny; k++, slot = slot + 1 === ny ? 0 : slot + 1) {
        const weight = v128.load32_splat(down + ((<usize>k) << 2))
        sum = f32x4.add(sum, f32x4.mul(weight, v128.load(lines + <usize>slot * row + i)))
      }
      v128.store(to + i, sum)
    }
    for (; i < row; i += 4) {
      let sum: f32 = 0
      for (let k = 0, slot = first; k < ny; k++, slot = slot + 1 === ny ? 0 : slot + 1)
        sum += load<f32>(down + ((<usize>k) << 2)) * load<f32>(lines + <usize>slot * row + i)
      store<f32>(to + i, sum)
    }
  }
}

/** out[i] = sum of weights[k] * from[i + k * pixel], all but the weights in bytes. */
function weigh(from: usize, weights: usize, n: i32, pixel: usize, out: usize, end: usize): void {
  const last = weights + ((<usize>n) << 2)
  let i: usize = 0
  for (; i + 64 <= end; i += 64) {
    const first = v128.load32_splat(weights)
    let a = f32x4.mul(first, v128.load(from + i))
    let b = f32x4.mul(first, v128.load(from + i, 16))
    let c = f32x4.mul(first, v128.load(from + i, 32))
    let d = f32x4.mul(first, v128.load(from + i, 48))
    for (let k = weights + 4, at = from + i + pixel; k < last; k += 4, at += pixel) {
      const weight = v128.load32_splat(k)
      a = f32x4.add(a, f32x4.mul(weight, v128.load(at)))
      b = f32x4.add(b, f32x4.mul(weight, v128.load(at, 16)))
      c = f32x4.add(c, f32x4.mul(weight, v128.load(at, 32)))
      d = f32x4.add(d, f32x4.mul(weight, v128.load(at, 48)))
    }
    v128.store(out + i, a)
    v128.store(out + i, b, 16)
    v128.store(out + i, c, 32)
    v128.store(out + i, d, 48)
  }
  for (; i + 16 <= end; i += 16) {
    let sum = f32x4.mul(v128.load32_splat(weights), v128.load(from + i))
    for (let k = weights + 4, at = from + i + pixel; k < last; k += 4, at += pixel)
      sum = f32x4.add(sum, f32x4.mul(v128.load32_splat(k), v128.load(at)))
    v128.store(out + i, sum)
  }
  for (; i < end; i += 4) {
    let sum = load<f32>(weights) * load<f32>(from + i)
    for (let k = weights + 4, at = from + i + pixel; k < last; k += 4, at += pixel)
      sum += load<f32>(k) * load<f32>(at)
    store<f32>(out + i, sum)
  }
}
