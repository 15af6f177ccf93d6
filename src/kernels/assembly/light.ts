// What goes with light by a power law. AssemblyScript.

import { exp2, log2 } from './simd'

/** `level * max(darkest, light) ** power` of four samples; of what is not finite some number. */
export function strengthAt(light: v128, level: f32, power: f32, darkest: f32): v128 {
  const exponent = f32x4.mul(f32x4.splat(power), log2(f32x4.pmax(f32x4.splat(darkest), light)))
  return f32x4.mul(f32x4.splat(level), exp2(exponent))
}

/**
 * Turns samples of light into `level * max(darkest, light) ** power`, in place. What is not finite comes out as some number.
 *
 * @param data room for `length` float32, and as many more up to a multiple of four
 */
export function powerLaw(data: usize, length: i32, level: f32, power: f32, darkest: f32): void {
  const end = (<usize>length) << 2
  for (let i: usize = 0; i < end; i += 16) {
    v128.store(data + i, strengthAt(v128.load(data + i), level, power, darkest))
  }
}
