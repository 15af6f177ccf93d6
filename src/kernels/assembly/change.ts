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
  const limit = f32x4.splat(atLeast(clip))
  const floor = f32x4.splat(atMost(black))
  for (let y = 0; y < height; y++)
    for (let column = 0; column < columns; column++) {
      const first = <usize>(y * width + column * CELL)
      const end = first + <usize>min(CELL, width - column * CELL)
      let found: u8 = 0
      let i = first
      for (; i + 4 <= end; i += 4) {
        const side = load<u32>(sides + i)
        if (side === 0) continue
        const told =
          side & (fourTelling(one + i * 12, limit, floor) & fourTelling(two + i * 12, limit, floor))
        if (told !== side) store<u32>(sides + i, told)
        found |= <u8>(told | (told >> 8) | (told >> 16) | (told >> 24))
      }
      for (; i < end; i++) {
        const side = load<u8>(sides + i)
        if (side === 0) continue
        if (isTelling(one + i * 12, clip, black) && isTelling(two + i * 12, clip, black)) found |= side
        else store<u8>(sides + i, 0)
      }
      const cell = <usize>((y / CELL) * columns + column)
      if ((found & INSIDE) !== 0)
        addRun(one, two, sides, first, end, INSIDE, inside + (cell << 3), insideSums + cell * 120)
      if ((found & RING) !== 0)
        addRun(one, two, sides, first, end, RING, ring + (cell << 3), ringSums + cell * 120)
    }
}

/** A cell's part of a row: sums are kept at hand, since one that is stored and loaded again waits for it. */
function addRun(
  one: usize,
  two: usize,
  sides: usize,
  first: usize,
  end: usize,
  side: u8,
  count: usize,
  sums: usize,
): void {
  let n: f64 = 0
  let means0 = v128.load(sums)
  let products0 = v128.load(sums, 16)
  let squares0 = load<f64>(sums, 32)
  let means1 = v128.load(sums, 40)
  let products1 = v128.load(sums, 56)
  let squares1 = load<f64>(sums, 72)
  let means2 = v128.load(sums, 80)
  let products2 = v128.load(sums, 96)
  let squares2 = load<f64>(sums, 112)
  for (let i = first; i < end; i++) {
    if (load<u8>(sides + i) !== side) continue
    n += 1
    const a = one + i * 12
    const b = two + i * 12
    const p0 = <f64>load<f32>(a)
    const q0 = <f64>load<f32>(b)
    means0 = f64x2.add(means0, f64x2(p0, q0))
    products0 = f64x2.add(products0, f64x2(p0 * p0, p0 * q0))
    squares0 += q0 * q0
    const p1 = <f64>load<f32>(a, 4)
    const q1 = <f64>load<f32>(b, 4)
    means1 = f64x2.add(means1, f64x2(p1, q1))
    products1 = f64x2.add(products1, f64x2(p1 * p1, p1 * q1))
    squares1 += q1 * q1
    const p2 = <f64>load<f32>(a, 8)
    const q2 = <f64>load<f32>(b, 8)
    means2 = f64x2.add(means2, f64x2(p2, q2))
    products2 = f64x2.add(products2, f64x2(p2 * p2, p2 * q2))
    squares2 += q2 * q2
  }
  store<f64>(count, load<f64>(count) + n)
  v128.store(sums, means0)
  v128.store(sums, products0, 16)
  store<f64>(sums, squares0, 32)
  v128.store(sums, means1, 40)
  v128.store(sums, products1, 56)
  store<f64>(sums, squares1, 72)
  v128.store(sums, means2, 80)
  v128.store(sums, products2, 96)
  store<f64>(sums, squares2, 112)
}

/**
 * Adds up, cell by cell, what two pictures of a frame differ by at some pixels; what in either is clipped or black is left out.
 *
 * @param plate, own interleaved RGB
 * @param band       int32, so many pixels of them
 * @param count      so many samples per cell; per cell, R, G and B `light` the sums of the plate, `step` of what `own` has more
 */
export function addSteps(
  plate: usize,
  own: usize,
  band: usize,
  pixels: i32,
  width: i32,
  clip: f64,
  black: f64,
  count: usize,
  light: usize,
  step: usize,
): void {
  const columns = (width + CELL - 1) / CELL
  for (let k: usize = 0; k < <usize>pixels; k++) {
    const i = load<i32>(band + (k << 2))
    const a = plate + <usize>i * 12
    const b = own + <usize>i * 12
    if (!isTelling(a, clip, black) || !isTelling(b, clip, black)) continue
    const y = i / width
    const cell = <usize>((y / CELL) * columns + (i - y * width) / CELL)
    store<f64>(count + (cell << 3), load<f64>(count + (cell << 3)) + 1)
    for (let c: usize = 0; c < 3; c++) {
      const to = cell * 24 + (c << 3)
      const under = <f64>load<f32>(a + (c << 2))
      store<f64>(light + to, load<f64>(light + to) + under)
      store<f64>(step + to, load<f64>(step + to) + (<f64>load<f32>(b + (c << 2)) - under))
    }
  }
}

/** Below this lies every float32 that lies below a limit, and no other. */
function atLeast(limit: f64): f32 {
  const near = <f32>limit
  return <f64>near >= limit ? near : next(near, 1)
}

/** Above this lies every float32 that lies above a limit, and no other. */
function atMost(limit: f64): f32 {
  const near = <f32>limit
  return <f64>near <= limit ? near : next(near, -1)
}

/** The float32 beside one above 0. */
function next(v: f32, step: i32): f32 {
  return reinterpret<f32>(reinterpret<i32>(v) + step)
}

/** Four pixels' bytes, all bits set of each that tells. */
function fourTelling(at: usize, limit: v128, floor: v128): u32 {
  const a = v128.load(at)
  const b = v128.load(at, 16)
  const c = v128.load(at, 32)
  // Of each pixel's three samples, in three vectors of which each has another one.
  const below =
    i32x4.bitmask(f32x4.lt(a, limit)) |
    (i32x4.bitmask(f32x4.lt(b, limit)) << 4) |
    (i32x4.bitmask(f32x4.lt(c, limit)) << 8)
  const above =
    i32x4.bitmask(f32x4.gt(a, floor)) |
    (i32x4.bitmask(f32x4.gt(b, floor)) << 4) |
    (i32x4.bitmask(f32x4.gt(c, floor)) << 8)
  return (
    telling(below, above, 0, 0x000000ff) |
    telling(below, above, 3, 0x0000ff00) |
    telling(below, above, 6, 0x00ff0000) |
    telling(below, above, 9, 0xff000000)
  )
}

/** @param from bit of the pixel's red */
function telling(below: i32, above: i32, from: i32, byte: u32): u32 {
  return ((below >> from) & 7) === 7 && ((above >> (from + 1)) & 1) === 1 ? byte : 0
}

/** Is a pixel's light between black and clipped, in green, and nowhere clipped? */
function isTelling(at: usize, clip: f64, black: f64): boolean {
  const green = <f64>load<f32>(at, 4)
  return <f64>load<f32>(at) < clip && green < clip && <f64>load<f32>(at, 8) < clip && green > black
}
