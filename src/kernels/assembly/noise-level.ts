// What a picture's noise is told by: how far each pixel lies from what its neighbours make likely. AssemblyScript, in float64.

/** Roots of green of interleaved RGB; of light below 0 they are 0. @param out room up to a multiple of four */
export function greenRoots(rgb: usize, out: usize, length: i32): void {
  const zero = f32x4.splat(0)
  const last = length - 1
  for (let i = 0; i < length; i += 4) {
    const light = f32x4(
      load<f32>(rgb + <usize>i * 12, 4),
      load<f32>(rgb + <usize>min(i + 1, last) * 12, 4),
      load<f32>(rgb + <usize>min(i + 2, last) * 12, 4),
      load<f32>(rgb + <usize>min(i + 3, last) * 12, 4),
    )
    v128.store(out + ((<usize>i) << 2), f32x4.sqrt(f32x4.max(zero, light)))
  }
}

/**
 * Sums over the pixels where a mask is above 0, but for the picture's edge, in their order: of the size of what the mask of J. Immerkaer,
 * Fast Noise Variance Estimation (CVIU 1996), eq. 3, makes of them, and of the pixels themselves.
 *
 * @param answer receives both
 */
export function noiseSums(plane: usize, inside: usize, width: i32, height: i32, answer: usize): void {
  let sum: f64 = 0
  let light: f64 = 0
  const row = (<usize>width) << 2
  for (let y = 1; y < height - 1; y++) {
    let at = (<usize>(y * width + 1)) << 2
    for (const end = at + ((<usize>max(0, width - 2)) << 2); at < end; at += 8) {
      const isFirst = load<f32>(inside + at) > 0
      const isSecond = at + 4 < end && load<f32>(inside + at, 4) > 0
      if (!isFirst && !isSecond) continue
      const up = plane + at - row
      const here = plane + at
      const down = plane + at + row
      let corners = f64x2.add(two(up - 4), two(up + 4))
      corners = f64x2.add(f64x2.add(corners, two(down - 4)), two(down + 4))
      let sides = f64x2.add(two(up), two(down))
      sides = f64x2.add(f64x2.add(sides, two(here - 4)), two(here + 4))
      const own = two(here)
      const off = f64x2.add(
        f64x2.sub(corners, f64x2.mul(f64x2.splat(2), sides)),
        f64x2.mul(f64x2.splat(4), own),
      )
      const size = f64x2.abs(off)
      if (isFirst) {
        sum += f64x2.extract_lane(size, 0)
        light += f64x2.extract_lane(own, 0)
      }
      if (isSecond) {
        sum += f64x2.extract_lane(size, 1)
        light += f64x2.extract_lane(own, 1)
      }
    }
  }
  store<f64>(answer, sum)
  store<f64>(answer, light, 8)
}

function two(at: usize): v128 {
  return f64x2.promote_low_f32x4(v128.load64_zero(at))
}
