// Sums over small square cells of two pictures' green, in float64 and in the order of the pixels. AssemblyScript.

/** Side of a cell, pixels; as in cells.ts beside this folder. */
const CELL_PX: i32 = 8

/**
 * Per cell: how many pixels count and are finite in both, sums of a, b, a a, a b, b b over them. Cells begin at every `step`th
 * row and column; those that don't lie in the picture altogether are left out.
 *
 * @param one,two interleaved RGB
 * @param counts  a pixel counts where it is above 0
 * @param out     receives six float64 per cell
 */
export function cellProducts(
  one: usize,
  two: usize,
  counts: usize,
  width: i32,
  height: i32,
  step: i32,
  out: usize,
): void {
  for (let top = 0; top + CELL_PX <= height; top += step)
    for (let left = 0; left + CELL_PX <= width; left += step, out += 48) {
      let n: f64 = 0
      let a: f64 = 0
      let b: f64 = 0
      let aa: f64 = 0
      let ab: f64 = 0
      let bb: f64 = 0
      for (let y = top; y < top + CELL_PX; y++) {
        let i = <usize>(y * width + left)
        for (const end = i + CELL_PX; i < end; i++) {
          if (!(load<f32>(counts + (i << 2)) > 0)) continue
          const u = <f64>load<f32>(one + i * 12, 4)
          const v = <f64>load<f32>(two + i * 12, 4)
          // Of infinity and of NaN nothing is left over.
          if (u - u !== 0 || v - v !== 0) continue
          n += 1
          a += u
          b += v
          aa += u * u
          ab += u * v
          bb += v * v
        }
      }
      store<f64>(out, n)
      store<f64>(out, a, 8)
      store<f64>(out, b, 16)
      store<f64>(out, aa, 24)
      store<f64>(out, ab, 32)
      store<f64>(out, bb, 40)
    }
}

/**
 * Per cell: how many pixels count, sums of the second picture and of the squares of what the first differs from it by.
 *
 * @param out receives three float64 per cell
 */
export function cellDistances(
  one: usize,
  two: usize,
  counts: usize,
  width: i32,
  height: i32,
  out: usize,
): void {
  for (let top = 0; top + CELL_PX <= height; top += CELL_PX)
    for (let left = 0; left + CELL_PX <= width; left += CELL_PX, out += 24) {
      let n: f64 = 0
      let light: f64 = 0
      let squares: f64 = 0
      for (let y = top; y < top + CELL_PX; y++) {
        let i = <usize>(y * width + left)
        for (const end = i + CELL_PX; i < end; i++) {
          if (!(load<f32>(counts + (i << 2)) > 0)) continue
          const v = <f64>load<f32>(two + i * 12, 4)
          const off = <f64>load<f32>(one + i * 12, 4) - v
          n += 1
          light += v
          squares += off * off
        }
      }
      store<f64>(out, n)
      store<f64>(out, light, 8)
      store<f64>(out, squares, 16)
    }
}
