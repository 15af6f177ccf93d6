// Light as code values of a screen. AssemblyScript.

/** Steps of light from black to white. */
const STEPS: i32 = 65535

/**
 * What a table says of samples of light: of the step that each lies next to, held at the table's ends; no number is black.
 *
 * @param light float32, room up to a multiple of four
 * @param scale steps per unit of light
 * @param table a byte for each of STEPS + 1 steps
 * @param out   receives bytes
 */
export function displayCodes(light: usize, out: usize, length: i32, scale: f64, table: usize): void {
  let i: usize = 0
  for (; i + 4 <= <usize>length; i += 4) {
    const at = stepsOf(v128.load(light + (i << 2)), scale)
    const one = <u32>load<u8>(table + <usize>i32x4.extract_lane(at, 0))
    const two = <u32>load<u8>(table + <usize>i32x4.extract_lane(at, 1))
    const three = <u32>load<u8>(table + <usize>i32x4.extract_lane(at, 2))
    const four = <u32>load<u8>(table + <usize>i32x4.extract_lane(at, 3))
    store<u32>(out + i, one | (two << 8) | (three << 16) | (four << 24))
  }
  for (; i < <usize>length; i++) {
    const at = stepsOf(v128.load32_zero(light + (i << 2)), scale)
    store<u8>(out + i, load<u8>(table + <usize>i32x4.extract_lane(at, 0)))
  }
}

/** In float64, since light that is lifted by stops must not jump from step to step. */
function stepsOf(light: v128, scale: f64): v128 {
  const low = steps(f64x2.promote_low_f32x4(light), scale)
  const high = steps(f64x2.promote_low_f32x4(v128.shuffle<f64>(light, light, 1, 0)), scale)
  return i32x4.min_u(v128.shuffle<i32>(low, high, 0, 1, 4, 5), i32x4.splat(STEPS))
}

/** Of two samples; below black, and of no number, 0. */
function steps(light: v128, scale: f64): v128 {
  const nearest = f64x2.add(f64x2.mul(light, f64x2.splat(scale)), f64x2.splat(0.5))
  return i32x4.trunc_sat_f64x2_u_zero(nearest)
}

/** `zero + gain * (one - two)` of codes, held between 0 and 255. @param gain of no more than 64 either way */
export function differenceCodes(one: usize, two: usize, zero: i32, gain: i32, out: usize, length: i32): void {
  const by = i16x8.splat(<i16>gain)
  const middle = i16x8.splat(<i16>zero)
  let i: usize = 0
  for (; i + 8 <= <usize>length; i += 8) {
    const off = i16x8.sub(v128.load8x8_u(one + i), v128.load8x8_u(two + i))
    const codes = i16x8.add(middle, i16x8.mul(by, off))
    v128.store64_lane(out + i, i8x16.narrow_i16x8_u(codes, codes), 0)
  }
  for (; i < <usize>length; i++) {
    const code = zero + gain * (<i32>load<u8>(one + i) - <i32>load<u8>(two + i))
    store<u8>(out + i, <u8>min(255, max(0, code)))
  }
}
