// Pictures in half floats brought down by a whole factor. AssemblyScript.

/**
 * One row of the smaller picture from `factor` rows of halves: means over factor x factor pixels, of what of each is finite.
 * Columns at the end that don't fill a pixel are left out.
 *
 * @param halves RGB, interleaved, `factor` rows of `width` pixels
 * @param sums   room for 3 * width float32
 * @param counts room for 3 * width int32
 * @param out    receives 3 * (width / factor) float32
 * @param found  receives as many bytes: 1 where there was anything finite, else 0; `out` is 0 there
 */
export function halfMeans(
  halves: usize,
  width: i32,
  factor: i32,
  sums: usize,
  counts: usize,
  out: usize,
  found: usize,
): void {
  const n = <usize>(3 * width)
  memory.fill(sums, 0, n << 2)
  memory.fill(counts, 0, n << 2)
  for (let row = 0; row < factor; row++) {
    const from = halves + ((<usize>row * n) << 1)
    let i: usize = 0
    for (; i + 4 <= n; i += 4) {
      const bits = i32x4.extend_low_i16x8_u(v128.load64_zero(from + (i << 1)))
      const magnitude = v128.and(bits, i32x4.splat(0x7fff))
      // Moved into a float's place the exponent is 112 too small; 2^112 puts that right, for subnormals, too.
      const value = f32x4.mul(i32x4.shl(magnitude, 13), f32x4.splat(5.192296858534828e33))
      const signed = v128.or(value, i32x4.shl(v128.and(bits, i32x4.splat(0x8000)), 16))
      const finite = i32x4.lt_s(magnitude, i32x4.splat(0x7c00))
      const at = i << 2
      v128.store(sums + at, f32x4.add(v128.load(sums + at), v128.and(signed, finite)))
      v128.store(counts + at, i32x4.sub(v128.load(counts + at), finite))
    }
    for (; i < n; i++) {
      const bits = <i32>load<u16>(from + (i << 1))
      const magnitude = bits & 0x7fff
      if (magnitude >= 0x7c00) continue
      const value = reinterpret<f32>(magnitude << 13) * <f32>5.192296858534828e33
      const at = i << 2
      store<f32>(sums + at, load<f32>(sums + at) + ((bits & 0x8000) !== 0 ? -value : value))
      store<i32>(counts + at, load<i32>(counts + at) + 1)
    }
  }
  const columns = width / factor
  for (let x = 0; x < columns; x++) {
    for (let c = 0; c < 3; c++) {
      let sum: f32 = 0
      let count = 0
      for (let k = 0; k < factor; k++) {
        const at = (<usize>((x * factor + k) * 3 + c)) << 2
        sum += load<f32>(sums + at)
        count += load<i32>(counts + at)
      }
      const to = <usize>(3 * x + c)
      store<f32>(out + (to << 2), count > 0 ? sum / <f32>count : 0)
      store<u8>(found + to, count > 0 ? 1 : 0)
    }
  }
}
