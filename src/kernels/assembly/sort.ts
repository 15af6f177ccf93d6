// Sorting many short columns at once. AssemblyScript.
import { fourBytes, INVALID } from './simd'

/**
 * Sorts four columns of `length` vectors each, ascending, in place: K. E. Batcher's merge exchange (1968), as D. E. Knuth,
 * The Art of Computer Programming 3, 5.2.2, algorithm M, has it for any length. The same steps whatever the samples are.
 */
function sortFour(data: usize, length: i32): void {
  let half = 1
  while (half * 2 < length) half *= 2
  for (let p = half; p > 0; p >>= 1) {
    let q = half
    let r = 0
    let d = p
    for (;;) {
      // Indices whose bit p is r, in runs of p.
      for (let start = r; start < length - d; start += 2 * p) {
        const end = min(start + p, length - d)
        for (let i = start; i < end; i++) {
          const low = data + ((<usize>i) << 4)
          const high = data + ((<usize>(i + d)) << 4)
          const a = v128.load(low)
          const b = v128.load(high)
          v128.store(low, f32x4.pmin(b, a))
          v128.store(high, f32x4.pmax(a, b))
        }
      }
      if (q === p) break
      d = q - p
      q >>= 1
      r = p
    }
  }
}

/**
 * Sorts the samples of each of `columns` pixels (a multiple of 4) over `length` pictures; holes come last.
 *
 * @param rows   `columns` samples per picture
 * @param validities as many bytes, 0 for a hole
 * @param lights added to a picture's samples, one per picture
 * @param four   room for 4 samples per picture
 * @param sorted receives `length` samples per pixel, ascending
 * @param seen   receives per pixel how many are no holes, int32
 */
export function sortColumns(
  rows: usize,
  validities: usize,
  lights: usize,
  columns: i32,
  length: i32,
  four: usize,
  sorted: usize,
  seen: usize,
): void {
  for (let x = 0; x < columns; x += 4) {
    let shown = i32x4.splat(0)
    for (let k = 0; k < length; k++) {
      const i = <usize>(k * columns + x)
      const validity = fourBytes(validities + i)
      const hole = i32x4.eq(validity, i32x4.splat(INVALID))
      const sample = f32x4.add(v128.load(rows + (i << 2)), v128.load32_splat(lights + ((<usize>k) << 2)))
      v128.store(four + ((<usize>k) << 4), v128.bitselect(f32x4.splat(Infinity), sample, hole))
      // A hole is -1, so that what is added up is the others.
      shown = i32x4.add(shown, i32x4.add(i32x4.splat(1), hole))
    }
    v128.store(seen + ((<usize>x) << 2), shown)
    sortFour(four, length)
    for (let lane = 0; lane < 4; lane++) {
      const from = four + ((<usize>lane) << 2)
      const to = sorted + ((<usize>((x + lane) * length)) << 2)
      for (let k = 0; k < length; k++) store<f32>(to + ((<usize>k) << 2), load<f32>(from + ((<usize>k) << 4)))
    }
  }
}
