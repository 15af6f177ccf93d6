// What changes from one written frame to the next, in small cells. AssemblyScript, sums in float64.

/** Side of a cell; as in src/repair/finish/pair.ts. */
const CELL: i32 = 8

/** Marks; as in src/repair/finish/pair.ts. */
const INSIDE: u8 = 1
const RING: u8 = 2

/**
 * Marks per pixel of a frame INSIDE where the patch alone is seen on it and on another, RING where the plate alone is, else 0.
 *
 * @param alphaA, surroundA of the frame; alphaB, surroundB of the other, which was moved onto it by dx, dy pixels
 */
export function markSides(
  alphaA: usize,
  surroundA: usize,
  alphaB: usize,
  surroundB: usize,
  width: i32,
  height: i32,
  dx: i32,
  dy: i32,
  out: usize,
): void {
  memory.fill(out, 0, <usize>(width * height))
  for (let y = max(0, dy); y < min(height, height + dy); y++) {
    const right = min(width, width + dx)
    for (let x = max(0, dx); x < right; x++) {
      const at = y * width + x
      const i = (<usize>at) << 2
      const a = load<f32>(alphaA + i)
      const j = (<usize>(at - dy * width - dx)) << 2
      if (a === 1) {
        if (load<f32>(alphaB + j) === 1) store<u8>(out + <usize>at, INSIDE)
      } else if (a === 0 && load<f32>(surroundA + i) > 0)
        if (load<f32>(alphaB + j) === 0 && load<f32>(surroundB + j) > 0) store<u8>(out + <usize>at, RING)
    }
  }
}

/**
 * Adds up both pictures of a pair cell by cell, and marks 0 what in either is clipped or black.
 *
 * @param one, two  interleaved RGB
 * @param clip      light from which a sample is clipped; black lies at `black` and below
 * @param inside    so many samples per cell, then per cell, R, G and B sums of a, b, a a, a b, b b; so `ring`; they are added to
 */
export function addChange(
  one: usize,
  two: usize,
  sides: usize,
  width: i32,
  height: i32,
  clip: f64,
  black: f64,
  inside: usize,
  insideSums: usize,
  ring: usize,
  ringSums: usize,
): void {
  const columns = (width + CELL - 1) / CELL
  for (let y = 0, i = 0; y < height; y++) {
    const row = (y / CELL) * columns
    for (let x = 0; x < width; x++, i++) {
      const side = load<u8>(sides + <usize>i)
      if (side === 0) continue
      const at = <usize>i * 12
      if (!isTelling(one + at, clip, black) || !isTelling(two + at, clip, black)) {
        store<u8>(sides + <usize>i, 0)
        continue
      }
      const cell = <usize>(row + x / CELL)
      const count = (side === INSIDE ? inside : ring) + (cell << 3)
      let sums = (side === INSIDE ? insideSums : ringSums) + cell * 120
      store<f64>(count, load<f64>(count) + 1)
      for (let c: usize = 0; c < 12; c += 4, sums += 40) {
        const p = f64x2.splat(<f64>load<f32>(one + at + c))
        const q = f64x2.splat(<f64>load<f32>(two + at + c))
        const both = v128.shuffle<f64>(p, q, 0, 2)
        v128.store(sums, f64x2.add(v128.load(sums), both))
        v128.store(sums + 16, f64x2.add(v128.load(sums + 16), f64x2.mul(p, both)))
        const last = f64x2.extract_lane(q, 0)
        store<f64>(sums, load<f64>(sums, 32) + last * last, 32)
      }
    }
  }
}

/** Is a pixel's light between black and clipped, in green, and nowhere clipped? */
function isTelling(at: usize, clip: f64, black: f64): boolean {
  const green = <f64>load<f32>(at, 4)
  return <f64>load<f32>(at) < clip && green < clip && <f64>load<f32>(at, 8) < clip && green > black
}

/**
 * Adds up a picture and what another differs from it by cell by cell, where a band is and neither is clipped or black.
 *
 * @param count so many samples per cell; `light` and `step` per cell R, G and B; they are added to
 */
export function addSteps(
  one: usize,
  two: usize,
  band: usize,
  width: i32,
  height: i32,
  clip: f64,
  black: f64,
  count: usize,
  light: usize,
  step: usize,
): void {
  const columns = (width + CELL - 1) / CELL
  for (let y = 0, i = 0; y < height; y++) {
    const row = (y / CELL) * columns
    for (let x = 0; x < width; x++, i++) {
      if (load<u8>(band + <usize>i) === 0) continue
      const at = <usize>i * 12
      if (!isTelling(one + at, clip, black) || !isTelling(two + at, clip, black)) continue
      const cell = <usize>(row + x / CELL)
      const counted = count + (cell << 3)
      store<f64>(counted, load<f64>(counted) + 1)
      for (let c: usize = 0; c < 3; c++) {
        const to = (3 * cell + c) << 3
        const own = <f64>load<f32>(one + at + (c << 2))
        const other = <f64>load<f32>(two + at + (c << 2))
        store<f64>(light + to, load<f64>(light + to) + own)
        store<f64>(step + to, load<f64>(step + to) + (other - own))
      }
    }
  }
}
