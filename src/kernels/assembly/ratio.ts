// What the ratio of two pictures needs: `estimate.ts` and `bands.ts` in `src/repair/lighting` say what is meant by it. All
// buffers here have room for a whole number of vectors. AssemblyScript.

import { blur } from './blur'
import { exp2, log2 } from './simd'

/**
 * The least-squares factor in a window, with a prior that the ratio is 1, multiplied into `out`.
 *
 * @param a     room for a plane; so `b`, `other`; `sums` as in `blur`
 * @param prior variance of the ratio's prior, over the noise and the window's pixels
 * @param least smallest ratio
 */
export function refineRatio(
  donor: usize,
  reference: usize,
  validity: usize,
  noise: usize,
  out: usize,
  a: usize,
  b: usize,
  other: usize,
  sums: usize,
  width: i32,
  height: i32,
  radius: i32,
  prior: f32,
  least: f32,
): void {
  const end = (<usize>(width * height)) << 2
  const zero = f32x4.splat(0)
  for (let i: usize = 0; i < end; i += 16) {
    const w = v128.load(validity + i)
    const on = f32x4.gt(w, zero)
    // The reference state under the light that is known so far; what of the donor it does not explain is lifted.
    const q = f32x4.mul(v128.load(out + i), v128.load(reference + i))
    const wq = f32x4.mul(w, q)
    v128.store(a + i, v128.and(on, f32x4.mul(wq, v128.load(donor + i))))
    v128.store(b + i, v128.and(on, f32x4.mul(wq, q)))
  }
  blur(a, other, sums, width, height, radius)
  blur(b, other, sums, width, height, radius)
  for (let i: usize = 0; i < end; i += 16) {
    const r = v128.load(out + i)
    const lambda = f32x4.pmax(f32x4.splat(1e-20), f32x4.mul(f32x4.splat(prior), v128.load(noise + i)))
    // The prior speaks of the whole ratio, not of the factor that is still to come.
    const lr = f32x4.mul(lambda, r)
    const over = f32x4.mul(r, f32x4.add(v128.load(a + i), lr))
    const under = f32x4.add(v128.load(b + i), f32x4.mul(lr, r))
    v128.store(out + i, f32x4.pmax(f32x4.splat(least), f32x4.div(over, under)))
  }
}

/**
 * Adds to `out` what `fine` has over `coarse`, as far as there is more of it than grain.
 *
 * @param light stops of the change: grain's share of a darker pixel grows
 * @param grain variance of grain in this band
 * @param a     room for a plane; so `other`; `sums` as in `blur`
 * @param times the band's energy must be above so many times the grain's
 */
export function addBand(
  fine: usize,
  coarse: usize,
  light: usize,
  grain: usize,
  out: usize,
  a: usize,
  other: usize,
  sums: usize,
  width: i32,
  height: i32,
  radius: i32,
  times: f32,
): void {
  const end = (<usize>(width * height)) << 2
  for (let i: usize = 0; i < end; i += 16) {
    const d = f32x4.sub(v128.load(fine + i), v128.load(coarse + i))
    v128.store(a + i, f32x4.mul(d, d))
  }
  blur(a, other, sums, width, height, radius)
  const zero = f32x4.splat(0)
  for (let i: usize = 0; i < end; i += 16) {
    const energy = v128.load(a + i)
    const darker = exp2(f32x4.pmax(zero, f32x4.neg(v128.load(light + i))))
    const most = f32x4.mul(f32x4.splat(times), f32x4.mul(v128.load(grain + i), darker))
    const kept = f32x4.sub(f32x4.splat(1), f32x4.div(most, energy))
    const d = f32x4.sub(v128.load(fine + i), v128.load(coarse + i))
    const added = v128.and(f32x4.gt(energy, most), f32x4.mul(d, kept))
    v128.store(out + i, f32x4.add(v128.load(out + i), added))
  }
}

/** log2 of normal positive samples, in place. */
export function logs(data: usize, length: i32): void {
  const end = data + ((<usize>length) << 2)
  for (let at = data; at < end; at += 16) v128.store(at, log2(v128.load(at)))
}

/** 2 to the power of samples, in place. */
export function powers(data: usize, length: i32): void {
  const end = data + ((<usize>length) << 2)
  for (let at = data; at < end; at += 16) v128.store(at, exp2(v128.load(at)))
}
