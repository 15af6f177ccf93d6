// The blocks of DWA: coefficients out of their streams, 8 x 8 inverse cosine transform, colour differences back to RGB, and
// rounding to halves. AssemblyScript. Source: OpenEXR 3.1 (ImfDwaCompressor); the transform is the orthonormal DCT (Ahmed,
// Natarajan & Rao, 1974), summed in float64 in the order of its definition.

/** In the stream of coefficients: 0xffnn skips nn zeros, 0xff00 ends a block. */
const END_OF_BLOCK: i32 = 0xff00

/** Coefficients of up to three blocks, then one block's rows in float64. */
const BLOCK_BYTES: usize = 256

/**
 * Decodes the blocks of one plane, or of three that were transformed together, that lie in some columns; passes over others.
 *
 * @param ac      16-bit words: all coefficients but the first of each block; `acCount` of them, of which the next is `acAt`
 * @param dc      the first coefficients, halves, plane after plane
 * @param planes  1, or 3 for luminance and two differences, which become red, green and blue
 * @param across  blocks in a row of them; `down` rows
 * @param from    first column of blocks that is wanted; `to` is behind the last
 * @param columns samples in a row of a plane; `rows` of them
 * @param out0    where the samples of the first plane go, row by row; `out1`, `out2` likewise
 * @param wide    a bit per plane: set where samples are float32 instead of halves
 * @param table   from half to half, or 0 for none
 * @param zigzag  64 bytes: where the i-th stored coefficient lies in its block
 * @param basis   64 float64: the weight of coefficient k at sample x, at 8 k + x
 * @param room    for 3 x 256 + 512 bytes
 * @returns the next of the coefficients, or -1 where they end early
 */
export function cosineBlocks(
  ac: usize,
  acCount: i32,
  acAt: i32,
  dc: usize,
  planes: i32,
  across: i32,
  down: i32,
  from: i32,
  to: i32,
  columns: i32,
  rows: i32,
  out0: usize,
  out1: usize,
  out2: usize,
  wide: i32,
  table: usize,
  zigzag: usize,
  basis: usize,
  room: usize,
): i32 {
  const end = ac + ((<usize>acCount) << 1)
  let at = ac + ((<usize>acAt) << 1)
  const rowsDone = room + 3 * BLOCK_BYTES
  const perPlane = (<usize>(across * down)) << 1
  for (let by = 0; by < down; by++) {
    for (let bx = 0; bx < across; bx++, dc += 2) {
      if (bx < from || bx >= to) {
        for (let c = 0; c < planes; c++) {
          at = pass(at, end)
          if (at === 0) return -1
        }
        continue
      }
      for (let c = 0; c < planes; c++) {
        const block = room + <usize>c * BLOCK_BYTES
        memory.fill(block, 0, BLOCK_BYTES)
        store<f32>(block, floatOf(load<u16>(dc + <usize>c * perPlane)))
        let filled: u32 = 1
        let i: usize = 1
        while (i < 64) {
          if (at >= end) return -1
          const word = <i32>load<u16>(at)
          at += 2
          if (word === END_OF_BLOCK) break
          if (word >> 8 === 0xff) {
            i += <usize>(word & 0xff)
          } else {
            const place = <usize>load<u8>(zigzag + i++)
            filled |= <u32>(1 << (<i32>place >> 3))
            if (place > 0) filled |= 0x100
            store<f32>(block + (place << 2), floatOf(<u16>word))
          }
        }
        if (filled === 1) flat(block, load<f64>(basis))
        else inverse(block, filled, basis, rowsDone)
      }
      if (planes === 3) toRgb(room, room + BLOCK_BYTES, room + 2 * BLOCK_BYTES)
      const wanted = min(8, columns - 8 * bx)
      const high = min(8, rows - 8 * by)
      const first = 8 * (by * columns + bx)
      put(room, out0, first, columns, wanted, high, (wide & 1) !== 0, table)
      if (planes === 3) {
        put(room + BLOCK_BYTES, out1, first, columns, wanted, high, (wide & 2) !== 0, table)
        put(room + 2 * BLOCK_BYTES, out2, first, columns, wanted, high, (wide & 4) !== 0, table)
      }
    }
  }
  return <i32>((at - ac) >> 1)
}

/** @returns where the next block begins, or 0 */
function pass(at: usize, end: usize): usize {
  let i = 1
  while (i < 64) {
    if (at >= end) return 0
    const word = <i32>load<u16>(at)
    at += 2
    if (word === END_OF_BLOCK) break
    i += word >> 8 === 0xff ? word & 0xff : 1
  }
  return at
}

/** The value of a half; a power of two moves the exponent, of what is below the least normal one, too. */
function floatOf(half: u16): f32 {
  const h = <u32>half
  let bits = (h & 0x7fff) << 13
  if ((h & 0x7c00) === 0x7c00) bits |= 0x7f800000
  else bits = reinterpret<u32>(reinterpret<f32>(bits) * reinterpret<f32>(<u32>((127 + 112) << 23)))
  return reinterpret<f32>(bits | ((h & 0x8000) << 16))
}

/** A block of its first coefficient alone. */
function flat(block: usize, weight: f64): void {
  const value = f32x4.splat(<f32>(<f64>load<f32>(block) * weight * weight))
  for (let i: usize = 0; i < BLOCK_BYTES; i += 16) v128.store(block + i, value)
}

/** In place. Products with zeros are left out: they change no sum. @param filled a bit for each row that has coefficients */
function inverse(block: usize, filled: u32, basis: usize, rowsDone: usize): void {
  for (let row: usize = 0; row < 8; row++) {
    if ((filled & (1 << (<u32>row))) === 0) continue
    let a = f64x2.splat(0)
    let b = f64x2.splat(0)
    let c = f64x2.splat(0)
    let d = f64x2.splat(0)
    for (let k: usize = 0; k < 8; k++) {
      const value = load<f32>(block + (((row << 3) + k) << 2))
      if (value === 0) continue
      const v = f64x2.splat(<f64>value)
      const weights = basis + (k << 6)
      a = f64x2.add(a, f64x2.mul(v, v128.load(weights)))
      b = f64x2.add(b, f64x2.mul(v, v128.load(weights, 16)))
      c = f64x2.add(c, f64x2.mul(v, v128.load(weights, 32)))
      d = f64x2.add(d, f64x2.mul(v, v128.load(weights, 48)))
    }
    const to = rowsDone + (row << 6)
    v128.store(to, a)
    v128.store(to, b, 16)
    v128.store(to, c, 32)
    v128.store(to, d, 48)
  }
  for (let y: usize = 0; y < 8; y++) {
    let a = f64x2.splat(0)
    let b = f64x2.splat(0)
    let c = f64x2.splat(0)
    let d = f64x2.splat(0)
    for (let k: usize = 0; k < 8; k++) {
      if ((filled & (1 << (<u32>k))) === 0) continue
      const v = v128.load64_splat(basis + (k << 6) + (y << 3))
      const from = rowsDone + (k << 6)
      a = f64x2.add(a, f64x2.mul(v, v128.load(from)))
      b = f64x2.add(b, f64x2.mul(v, v128.load(from, 16)))
      c = f64x2.add(c, f64x2.mul(v, v128.load(from, 32)))
      d = f64x2.add(d, f64x2.mul(v, v128.load(from, 48)))
    }
    const to = block + (y << 5)
    v128.store(to, narrowed(a, b))
    v128.store(to, narrowed(c, d), 16)
  }
}

/** Four float64 to float32. */
// @ts-expect-error: decorator
function narrowed(a: v128, b: v128): v128 {
  const low = f32x4.demote_f64x2_zero(a)
  const high = f32x4.demote_f64x2_zero(b)
  return v128.shuffle<u64>(low, high, 0, 2)
}

/** Y, Cb, Cr into R, G, B, in place; ITU-R BT.709 differences as DWA rounds them, summed in float64. */
function toRgb(y: usize, cb: usize, cr: usize): void {
  for (let i: usize = 0; i < BLOCK_BYTES; i += 8) {
    const luma = f64x2.promote_low_f32x4(v128.load64_zero(y + i))
    const blue = f64x2.promote_low_f32x4(v128.load64_zero(cb + i))
    const red = f64x2.promote_low_f32x4(v128.load64_zero(cr + i))
    const r = f64x2.add(luma, f64x2.mul(f64x2.splat(1.5747), red))
    const g = f64x2.sub(
      f64x2.sub(luma, f64x2.mul(f64x2.splat(0.1873), blue)),
      f64x2.mul(f64x2.splat(0.4682), red),
    )
    const b = f64x2.add(luma, f64x2.mul(f64x2.splat(1.8556), blue))
    v128.store64_lane(y + i, f32x4.demote_f64x2_zero(r), 0)
    v128.store64_lane(cb + i, f32x4.demote_f64x2_zero(g), 0)
    v128.store64_lane(cr + i, f32x4.demote_f64x2_zero(b), 0)
  }
}

/** What of a block lies in its plane, as halves or the float32 of these. */
function put(
  block: usize,
  out: usize,
  first: i32,
  pitch: i32,
  width: i32,
  height: i32,
  wide: bool,
  table: usize,
): void {
  for (let y = 0; y < height; y++, block += 32, first += pitch) {
    // in place: a half in the low bits of each lane
    v128.store(block, halves(v128.load(block)))
    v128.store(block, halves(v128.load(block, 16)), 16)
    if (width === 8 && !wide && table !== 0) {
      const to = out + ((<usize>first) << 1)
      store<u16>(to, through(table, block))
      store<u16>(to, through(table, block + 4), 2)
      store<u16>(to, through(table, block + 8), 4)
      store<u16>(to, through(table, block + 12), 6)
      store<u16>(to, through(table, block + 16), 8)
      store<u16>(to, through(table, block + 20), 10)
      store<u16>(to, through(table, block + 24), 12)
      store<u16>(to, through(table, block + 28), 14)
      continue
    }
    for (let x = 0; x < width; x++) {
      let half = load<u16>(block + ((<usize>x) << 2))
      if (table !== 0) half = load<u16>(table + ((<usize>half) << 1))
      const at = <usize>(first + x)
      if (wide) store<f32>(out + (at << 2), floatOf(half))
      else store<u16>(out + (at << 1), half)
    }
  }
}

function through(table: usize, at: usize): u16 {
  return load<u16>(table + ((<usize>load<u16>(at)) << 1))
}

/** The halves nearest to four float32, ties to even, in the low 16 bits of each lane. */
function halves(v: v128): v128 {
  const sign = v128.and(i32x4.shr_u(v, 16), i32x4.splat(0x8000))
  const size = v128.and(v, i32x4.splat(0x7fffffff))
  const odd = v128.and(i32x4.shr_u(size, 13), i32x4.splat(1))
  // the exponent's bias from 127 to 15, and half a unit less one
  const normal = i32x4.shr_u(i32x4.add(i32x4.add(size, i32x4.splat(0xc8000fff)), odd), 13)
  // beside 0.5 a float32 counts in 2^-24, as halves below the least normal one do
  const half = i32x4.splat(0x3f000000)
  const small = i32x4.sub(f32x4.add(size, half), half)
  let out = v128.bitselect(small, normal, i32x4.lt_s(size, i32x4.splat(0x38800000)))
  out = v128.bitselect(i32x4.splat(0x7c00), out, i32x4.ge_s(size, i32x4.splat(0x477ff000)))
  const nan = v128.or(i32x4.splat(0x7e00), v128.and(i32x4.shr_u(size, 13), i32x4.splat(0x3ff)))
  out = v128.bitselect(nan, out, i32x4.gt_s(size, i32x4.splat(0x7f800000)))
  return v128.or(out, sign)
}
