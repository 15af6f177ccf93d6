// Weighted sums of a pair of pictures, block by block. AssemblyScript.

import { fourBytes, sum64 } from './simd'

/** Samples that are summed in float32 before the sum is handed on to float64. */
export const BLOCK: i32 = 64
/** Six float64. */
export const SUMS_BYTES: usize = 48

/**
 * Weighted sums of two lists of samples that lie about 0. Of their product what is left when they are alike would be lost
 * in float32; of the square of their difference e it is not.
 *
 * @param weight of the target's samples
 * @param validity  one byte per sample of the donor, 0 or 1; a null pointer: all 1
 * @param sums   receives the sums of w, w t, w d, w t t, w d d, w e e, float64
 */
export function pairSums(
  target: usize,
  donor: usize,
  weight: usize,
  validity: usize,
  length: i32,
  sums: usize,
): void {
  memory.fill(sums, 0, SUMS_BYTES)
  let i = 0
  while (i + 4 <= length) {
    const end = endOfBlock(i, length)
    addBlock(target, donor, weight, validity, i, end, sums)
    i = end
  }
  addRest(target, donor, weight, validity, i, length, sums)
}

/** Where a block ends that begins at a sample: in whole fours. */
export function endOfBlock(from: i32, length: i32): i32 {
  return min(length & ~3, from + BLOCK)
}

/** Adds the sums of samples from one up to, not including, another: whole fours. */
export function addBlock(
  target: usize,
  donor: usize,
  weight: usize,
  validity: usize,
  from: i32,
  end: i32,
  sums: usize,
): void {
  let aw = f32x4.splat(0)
  let at = f32x4.splat(0)
  let ad = f32x4.splat(0)
  let att = f32x4.splat(0)
  let add = f32x4.splat(0)
  let aee = f32x4.splat(0)
  for (let i = from; i < end; i += 4) {
    const byte = (<usize>i) << 2
    const t = v128.load(target + byte)
    const d = v128.load(donor + byte)
    let wv = v128.load(weight + byte)
    if (validity) {
      wv = f32x4.mul(wv, f32x4.convert_i32x4_s(fourBytes(validity + <usize>i)))
    }
    const wt = f32x4.mul(wv, t)
    const wd = f32x4.mul(wv, d)
    aw = f32x4.add(aw, wv)
    at = f32x4.add(at, wt)
    ad = f32x4.add(ad, wd)
    att = f32x4.add(att, f32x4.mul(wt, t))
    add = f32x4.add(add, f32x4.mul(wd, d))
    const e = f32x4.sub(t, d)
    aee = f32x4.add(aee, f32x4.mul(wv, f32x4.mul(e, e)))
  }
  addSix(sums, sum64(aw), sum64(at), sum64(ad), sum64(att), sum64(add), sum64(aee))
}

/** Adds those of the samples that are left over of fours. */
export function addRest(
  target: usize,
  donor: usize,
  weight: usize,
  validity: usize,
  from: i32,
  length: i32,
  sums: usize,
): void {
  for (let i = from; i < length; i++) {
    const byte = (<usize>i) << 2
    const t: f64 = load<f32>(target + byte)
    const d: f64 = load<f32>(donor + byte)
    const wi: f64 = validity
      ? load<f32>(weight + byte) * <f32>load<u8>(validity + <usize>i)
      : load<f32>(weight + byte)
    addSix(sums, wi, wi * t, wi * d, wi * t * t, wi * d * d, wi * (t - d) * (t - d))
  }
}

/** Adds to the sums of w, w t, w d, w t t, w d d and w e e. */
export function addSix(sums: usize, w: f64, t: f64, d: f64, tt: f64, dd: f64, ee: f64): void {
  store<f64>(sums, load<f64>(sums) + w)
  store<f64>(sums, load<f64>(sums, 8) + t, 8)
  store<f64>(sums, load<f64>(sums, 16) + d, 16)
  store<f64>(sums, load<f64>(sums, 24) + tt, 24)
  store<f64>(sums, load<f64>(sums, 32) + dd, 32)
  store<f64>(sums, load<f64>(sums, 40) + ee, 40)
}
