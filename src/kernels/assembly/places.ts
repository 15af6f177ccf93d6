// What frames of one surface differ by at each place, and what that says of its grain. AssemblyScript.

/** Means of two planes, sample by sample. Each has room up to a multiple of four samples. */
export function means(one: usize, two: usize, length: i32, out: usize): void {
  const end = (<usize>length) << 2
  const half = f32x4.splat(0.5)
  for (let i: usize = 0; i < end; i += 16)
    v128.store(out + i, f32x4.mul(f32x4.add(v128.load(one + i), v128.load(two + i)), half))
}

/**
 * What one plane has more than another over `sigma`, in float64; 0 where that is not above 0, or it comes to no finite number.
 *
 * @param one and the others have room up to a multiple of two samples
 */
export function differencesOver(one: usize, two: usize, sigma: usize, length: i32, out: usize): void {
  const end = (<usize>length) << 2
  for (let i: usize = 0; i < end; i += 8) {
    const by = promoted(sigma + i)
    const v = f64x2.div(f64x2.sub(promoted(one + i), promoted(two + i)), by)
    const counts = v128.and(f64x2.gt(by, f64x2.splat(0)), f64x2.lt(f64x2.abs(v), f64x2.splat(f64.MAX_VALUE)))
    v128.store64_lane(out + i, f32x4.demote_f64x2_zero(v128.and(v, counts)), 0)
  }
}

/**
 * Of every `step`th pixel that is trusted what each of several planes has there, where that is more than `least`.
 *
 * @param planes one after the other, each with room up to a multiple of four samples
 * @param trusted float32, above 0
 * @returns how many there are
 */
export function gatherPlaces(
  planes: usize,
  count: i32,
  trusted: usize,
  length: i32,
  step: i32,
  least: f64,
  out: usize,
): i32 {
  const pitch = (<usize>length + 3) & ~3
  let to = out
  for (let i = 0; i < length; i += step) {
    if (!(load<f32>(trusted + ((<usize>i) << 2)) > 0)) continue
    for (let k = 0; k < count; k++) {
      const v = load<f32>(planes + ((<usize>k * pitch + <usize>i) << 2))
      if (!(<f64>v > least)) continue
      store<f32>(to, v)
      to += 4
    }
  }
  return <i32>((to - out) >> 2)
}

/**
 * Standard deviations from the mean of several planes of variances, each held to `limit`: the root of that mean over `unit`, `most`
 * at most.
 *
 * @param planes one after the other, each with room up to a multiple of four samples
 */
export function placeFactors(
  planes: usize,
  count: i32,
  length: i32,
  limit: f64,
  unit: f64,
  most: f64,
  out: usize,
): void {
  const pitch = ((<usize>length + 3) & ~3) << 2
  const end = (<usize>length) << 2
  for (let i: usize = 0; i < end; i += 4) {
    let energy: f64 = 0
    for (let k = 0, at = planes + i; k < count; k++, at += pitch)
      energy += min<f64>(<f64>load<f32>(at), limit) / <f64>count
    store<f32>(out + i, energy > 0 && unit > 0 ? <f32>min<f64>(most, sqrt<f64>(energy / unit)) : 0)
  }
}

function promoted(at: usize): v128 {
  return f64x2.promote_low_f32x4(v128.load64_zero(at))
}
