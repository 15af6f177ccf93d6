// Three planes of halves into pixels. AssemblyScript.

/**
 * Brings the samples of three planes together, pixel by pixel; what is not a number becomes quiet, as a conversion to float
 * and back would leave it.
 *
 * @param r     `count` halves in each of `rows` rows, the next `pitch` bytes on; `g` and `b` likewise
 * @param out   receives 3 x count x rows halves
 */
export function interleave(
  r: usize,
  g: usize,
  b: usize,
  pitch: i32,
  count: i32,
  rows: i32,
  out: usize,
): void {
  const bytes = (<usize>count) << 1
  for (let y = 0; y < rows; y++) {
    let i: usize = 0
    for (; i + 16 <= bytes; i += 16, out += 48) {
      const p = quiet(v128.load(r + i))
      const q = quiet(v128.load(g + i))
      const s = quiet(v128.load(b + i))
      const first = v128.shuffle<u16>(p, q, 0, 8, 0, 1, 9, 0, 2, 10)
      const second = v128.shuffle<u16>(p, q, 0, 3, 11, 0, 4, 12, 0, 5)
      const third = v128.shuffle<u16>(p, q, 13, 0, 6, 14, 0, 7, 15, 0)
      v128.store(out, v128.shuffle<u16>(first, s, 0, 1, 8, 3, 4, 9, 6, 7))
      v128.store(out, v128.shuffle<u16>(second, s, 10, 1, 2, 11, 4, 5, 12, 7), 16)
      v128.store(out, v128.shuffle<u16>(third, s, 0, 13, 2, 3, 14, 5, 6, 15), 32)
    }
    for (; i < bytes; i += 2, out += 6) {
      store<u16>(out, quietOne(load<u16>(r + i)))
      store<u16>(out, quietOne(load<u16>(g + i)), 2)
      store<u16>(out, quietOne(load<u16>(b + i)), 4)
    }
    r += <usize>pitch
    g += <usize>pitch
    b += <usize>pitch
  }
}

function quiet(v: v128): v128 {
  const nan = i16x8.gt_s(v128.and(v, i16x8.splat(0x7fff)), i16x8.splat(0x7c00))
  return v128.or(v, v128.and(nan, i16x8.splat(0x200)))
}

function quietOne(half: u16): u16 {
  return (half & 0x7fff) > 0x7c00 ? half | 0x200 : half
}
