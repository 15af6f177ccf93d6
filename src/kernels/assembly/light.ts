// What goes with light by a power law. AssemblyScript.

import { exp2, log2 } from './simd'

/**
 * Turns samples of light into `level * max(darkest, light) ** power`, in place. What is not finite comes out as some number.
 *
 * @param data room for `length` float32, and as many more up to a multiple of four
 */
export function powerLaw(data: usize, length: i32, level: f32, power: f32, darkest: f32): void {
  const end = (<usize>length) << 2
  for (let i: usize = 0; i < end; i += 16) {
    const light = f32x4.pmax(f32x4.splat(darkest), v128.load(data + i))
    const value = exp2(f32x4.mul(f32x4.splat(power), log2(light)))
    v128.store(data + i, f32x4.mul(f32x4.splat(level), value))
  }
}
