// Pictures in half floats as light, as they are and brought down by a whole factor. AssemblyScript.

/**
 * The values of halves, every one of which is a float32: NaN and infinity are such, too.
 *
 * @param halves `count` a row, rows `pitch` halves apart
 * @param out    receives [rows, count] float32
 */
export function halfValues(halves: usize, pitch: i32, count: i32, rows: i32, out: usize): void {
  let to = out
  for (let row = 0; row < rows; row++) {
    let from = halves + ((<usize>row * <usize>pitch) << 1)
    let i = 0
    for (; i + 4 <= count; i += 4, from += 8, to += 16)
      v128.store(to, asStored(i32x4.extend_low_i16x8_u(v128.load64_zero(from))))
    for (; i < count; i++, from += 2, to += 4)
      store<i32>(to, i32x4.extract_lane(asStored(i32x4.splat(<i32>load<u16>(from))), 0))
  }
}

/**
 * One row of the smaller picture from `factor` rows of halves: means over factor x factor pixels, for which what is no
 * number counts as black and infinity as 65,536. Columns at the end that don't fill a pixel are left out.
 *
 * @param halves RGB, interleaved, `factor` rows of `width` pixels
 * @param sums   room for 3 * width float32
 * @param out    receives 3 * (width / factor) float32
 */
export function halfLight(halves: usize, width: i32, factor: i32, sums: usize, out: usize): void {
  const n = <usize>(3 * width)
  memory.fill(sums, 0, n << 2)
  for (let row = 0; row < factor; row++) {
    const from = halves + ((<usize>row * n) << 1)
    let i: usize = 0
    for (; i + 4 <= n; i += 4) {
      const bits = i32x4.extend_low_i16x8_u(v128.load64_zero(from + (i << 1)))
      const at = sums + (i << 2)
      v128.store(at, f32x4.add(v128.load(at), light(bits)))
    }
    for (; i < n; i++) {
      const value = f32x4.extract_lane(light(i32x4.splat(<i32>load<u16>(from + (i << 1)))), 0)
      const at = sums + (i << 2)
      store<f32>(at, load<f32>(at) + value)
    }
  }
  const share: f32 = <f32>1 / <f32>(factor * factor)
  const columns = width / factor
  for (let x = 0; x < columns; x++) {
    for (let c = 0; c < 3; c++) {
      let sum: f32 = 0
      for (let k = 0; k < factor; k++) sum += load<f32>(sums + ((<usize>((x * factor + k) * 3 + c)) << 2))
      store<f32>(out + ((<usize>(3 * x + c)) << 2), sum * share)
    }
  }
}

/** Of four halves, one per 32-bit lane; NaN is 0, and infinity 65,536. */
function light(bits: v128): v128 {
  const magnitude = v128.and(bits, i32x4.splat(0x7fff))
  return v128.and(signed(finite(magnitude), bits), i32x4.le_s(magnitude, i32x4.splat(0x7c00)))
}

/** The same as they are. */
function asStored(bits: v128): v128 {
  const magnitude = v128.and(bits, i32x4.splat(0x7fff))
  // All of its bits are set in an exponent of what is not finite, here as there.
  const other = i32x4.add(i32x4.shl(magnitude, 13), i32x4.splat(224 << 23))
  const isOther = i32x4.ge_s(magnitude, i32x4.splat(0x7c00))
  return signed(v128.bitselect(other, finite(magnitude), isOther), bits)
}

/** Moved into a float's place the exponent is 112 too small; 2^112 puts that right, for subnormals, too. */
function finite(magnitude: v128): v128 {
  return f32x4.mul(i32x4.shl(magnitude, 13), f32x4.splat(5.192296858534828e33))
}

function signed(value: v128, bits: v128): v128 {
  return v128.or(value, i32x4.shl(v128.and(bits, i32x4.splat(0x8000)), 16))
}
