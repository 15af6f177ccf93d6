// The wavelet of PIZ. AssemblyScript. Source: openexr.com, "Technical Introduction"; order as in OpenEXR 3.1 (ImfWav).

/**
 * Undoes the two-dimensional Haar wavelet in place, from the coarsest level to the finest, in some columns: those that lie
 * within one step of the coarsest level depend on no others.
 *
 * @param words  the first of `height` rows of 16-bit words; `stepX` and `stepY` words lead to the neighbours
 * @param highest largest word that was transformed: below 2^14 sums keep their sign, above they wrap
 * @param from   first column that is wanted
 * @param to     behind the last one
 */
export function undoWavelet(
  words: usize,
  width: i32,
  stepX: i32,
  height: i32,
  stepY: i32,
  highest: i32,
  from: i32,
  to: i32,
): void {
  let span = 1
  while (span * 2 <= min(width, height)) span *= 2
  const wraps = highest >= 1 << 14
  const start = from & -span
  const stop = min(width, (to + span - 1) & -span)
  for (; span >= 2; span >>= 1) {
    const half = span >> 1
    const right = (<usize>(half * stepX)) << 1
    const below = (<usize>(half * stepY)) << 1
    const onward = (<usize>(span * stepX)) << 1
    for (let y = 0; y + span <= height; y += span) {
      let i = words + ((<usize>(y * stepY + start * stepX)) << 1)
      let x = start
      if (span === 2 && stepX === 1) {
        for (; x + 16 <= stop; x += 16, i += 32) {
          if (wraps) finestWrapped(i, i + below)
          else finestSigned(i, i + below)
        }
      }
      if (wraps) {
        for (; x + span <= stop; x += span, i += onward) {
          wrapped(i, i + below)
          wrapped(i + right, i + below + right)
          wrapped(i, i + right)
          wrapped(i + below, i + below + right)
        }
      } else {
        for (; x + span <= stop; x += span, i += onward) {
          signed(i, i + below)
          signed(i + right, i + below + right)
          signed(i, i + right)
          signed(i + below, i + below + right)
        }
      }
      if (stop === width && width & half) {
        if (wraps) wrapped(i, i + below)
        else signed(i, i + below)
      }
    }
    if (height & half) {
      let i = words + ((<usize>((height & -span) * stepY + start * stepX)) << 1)
      for (let x = start; x + span <= stop; x += span, i += onward) {
        if (wraps) wrapped(i, i + right)
        else signed(i, i + right)
      }
    }
  }
}

/** `rows` lots of `count` words, `pitch` words apart, through a table of 65536, in place. */
export function lookUp(words: usize, count: i32, rows: i32, pitch: i32, table: usize): void {
  for (let y = 0; y < rows; y++, words += (<usize>pitch) << 1) {
    for (let i = words, end = words + ((<usize>count) << 1); i < end; i += 2)
      store<u16>(i, load<u16>(table + ((<usize>load<u16>(i)) << 1)))
  }
}

/** From mean and difference back to two words; both signed, the mean rounded towards minus infinity. */
// @ts-expect-error: decorator
function signed(a: usize, b: usize): void {
  const difference = <i32>load<i16>(b)
  const first = <i32>load<i16>(a) + (difference & 1) + (difference >> 1)
  store<u16>(a, <u16>first)
  store<u16>(b, <u16>(first - difference))
}

/** The same modulo 2^16, where the mean is offset by half the range. */
// @ts-expect-error: decorator
function wrapped(a: usize, b: usize): void {
  const difference = <i32>load<u16>(b)
  const second = <i32>load<u16>(a) - (difference >> 1)
  store<u16>(b, <u16>second)
  store<u16>(a, <u16>(difference + second - 0x8000))
}

// Eight squares of four words at a time: the even and the odd words of two rows apart, and together again.
function finestSigned(a: usize, b: usize): void {
  let p = even(a)
  let q = odd(a)
  let r = even(b)
  let s = odd(b)
  const one = i16x8.splat(1)
  let first = i16x8.add(p, i16x8.add(v128.and(r, one), i16x8.shr_s(r, 1)))
  r = i16x8.sub(first, r)
  p = first
  first = i16x8.add(q, i16x8.add(v128.and(s, one), i16x8.shr_s(s, 1)))
  s = i16x8.sub(first, s)
  q = first
  first = i16x8.add(p, i16x8.add(v128.and(q, one), i16x8.shr_s(q, 1)))
  together(a, first, i16x8.sub(first, q))
  first = i16x8.add(r, i16x8.add(v128.and(s, one), i16x8.shr_s(s, 1)))
  together(b, first, i16x8.sub(first, s))
}

function finestWrapped(a: usize, b: usize): void {
  const offset = i16x8.splat(-32768)
  let p = even(a)
  let q = odd(a)
  let r = even(b)
  let s = odd(b)
  let second = i16x8.sub(p, i16x8.shr_u(r, 1))
  p = i16x8.add(i16x8.add(r, second), offset)
  r = second
  second = i16x8.sub(q, i16x8.shr_u(s, 1))
  q = i16x8.add(i16x8.add(s, second), offset)
  s = second
  second = i16x8.sub(p, i16x8.shr_u(q, 1))
  together(a, i16x8.add(i16x8.add(q, second), offset), second)
  second = i16x8.sub(r, i16x8.shr_u(s, 1))
  together(b, i16x8.add(i16x8.add(s, second), offset), second)
}

// @ts-expect-error: decorator
function even(at: usize): v128 {
  return v128.shuffle<u16>(v128.load(at), v128.load(at, 16), 0, 2, 4, 6, 8, 10, 12, 14)
}
// @ts-expect-error: decorator
function odd(at: usize): v128 {
  return v128.shuffle<u16>(v128.load(at), v128.load(at, 16), 1, 3, 5, 7, 9, 11, 13, 15)
}
// @ts-expect-error: decorator
function together(at: usize, evens: v128, odds: v128): void {
  v128.store(at, v128.shuffle<u16>(evens, odds, 0, 8, 1, 9, 2, 10, 3, 11))
  v128.store(at, v128.shuffle<u16>(evens, odds, 4, 12, 5, 13, 6, 14, 7, 15), 16)
}
