// Working pictures of whole frames, smaller: a frame's own is never stored. AssemblyScript.

import { working } from './working'

/**
 * One row of the smaller picture from `factor` rows of halves: the mean of log2(luminance + floor) over factor x factor
 * pixels. Columns at the end that don't fill a pixel are left out.
 *
 * @param halves RGB, interleaved, `factor` rows of `width` pixels
 * @param log    room for `width` float32
 * @param sums   room for `width` float32
 * @param validity room for `width` bytes, and as many up to a multiple of 16
 * @param doubts   likewise
 * @param out    receives width / factor float32
 * @param known  receives as many bytes: 1 where every pixel is VALID, else 0
 * @param clip   as for `working`, like `first`
 */
export function shrunk(
  halves: usize,
  width: i32,
  factor: i32,
  wr: f32,
  wg: f32,
  wb: f32,
  floor: f32,
  clip: i32,
  first: f32,
  log: usize,
  sums: usize,
  validity: usize,
  doubts: usize,
  out: usize,
  known: usize,
): void {
  memory.fill(sums, 0, (<usize>width) << 2)
  memory.fill(doubts, 0, <usize>width)
  const valid = i8x16.splat(1)
  for (let y = 0; y < factor; y++) {
    working(halves + <usize>y * <usize>width * 6, log, validity, width, wr, wg, wb, floor, clip, first)
    let i: usize = 0
    for (; i + 4 <= <usize>width; i += 4) {
      const at = i << 2
      v128.store(sums + at, f32x4.add(v128.load(sums + at), v128.load(log + at)))
    }
    for (; i < <usize>width; i++) {
      const at = i << 2
      store<f32>(sums + at, load<f32>(sums + at) + load<f32>(log + at))
    }
    for (let x: usize = 0; x < <usize>width; x += 16) {
      const doubt = v128.xor(v128.load(validity + x), valid)
      v128.store(doubts + x, v128.or(v128.load(doubts + x), doubt))
    }
  }
  const columns = width / factor
  const share: f32 = <f32>1 / <f32>(factor * factor)
  for (let x = 0; x < columns; x++) {
    let sum: f32 = 0
    let doubt: u8 = 0
    for (let k = 0; k < factor; k++) {
      const at = <usize>(x * factor + k)
      sum += load<f32>(sums + (at << 2))
      doubt |= load<u8>(doubts + at)
    }
    store<f32>(out + ((<usize>x) << 2), sum * share)
    store<u8>(known + <usize>x, doubt === 0 ? 1 : 0)
  }
}
