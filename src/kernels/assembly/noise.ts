// Noise under a filter. AssemblyScript.

/**
 * Adds a field under a filter where it is wanted: `into += takes * sum of weights * field`.
 *
 * @param field   with half the filter's side more samples on every side than `into`, `stride` a row
 * @param weights side x side
 * @param takes   per sample of `into`; four neighbours of which none takes any are passed over
 */
export function addFiltered(
  field: usize,
  stride: i32,
  weights: usize,
  side: i32,
  takes: usize,
  into: usize,
  width: i32,
  height: i32,
): void {
  for (let y = 0; y < height; y++) {
    const row = (<usize>(y * width)) << 2
    let x = 0
    for (; x + 4 <= width; x += 4) {
      const at = row + ((<usize>x) << 2)
      const some = v128.load(takes + at)
      if (!v128.any_true(f32x4.ne(some, f32x4.splat(0)))) continue
      let sum = f32x4.splat(0)
      let weight = weights
      for (let v = 0; v < side; v++) {
        let from = field + ((<usize>((y + v) * stride + x)) << 2)
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
        let from = field + ((<usize>((y + v) * stride + x)) << 2)
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
