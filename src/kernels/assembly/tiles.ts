// What two frames differ by over small square tiles, and the power of such tiles at each frequency. AssemblyScript, doubles.
// A tile is SIDE x SIDE samples of R, then as many of G, then of B.

const SIDE: i32 = 16
const PIXELS: usize = 256
/** Bytes of one channel of a tile. */
const CHANNEL: usize = PIXELS << 3

/**
 * Differences of two frames over tiles, the second brought to the light of the first, each tile's mean taken out, over the
 * root of 2.
 *
 * @param one      interleaved RGB, so many pixels wide; `corners` are where tiles begin in it, pixels
 * @param light    receives per tile R, G and B: mean light of both, not below 0
 * @param variance receives likewise the mean square of the difference
 */
export function tileDifferences(
  one: usize,
  two: usize,
  width: i32,
  corners: usize,
  count: i32,
  tiles: usize,
  light: usize,
  variance: usize,
): void {
  for (let t = 0; t < count; t++)
    for (let c: usize = 0; c < 3; c++) {
      const at = <usize>load<i32>(corners + ((<usize>t) << 2)) * 12 + (c << 2)
      const to = tiles + (<usize>t * 3 + c) * CHANNEL
      let sumOne: f64 = 0
      let sumTwo: f64 = 0
      for (let y: usize = 0, row = at; y < <usize>SIDE; y++, row += <usize>width * 12)
        for (let i = row; i < row + <usize>SIDE * 12; i += 12) {
          sumOne += <f64>load<f32>(one + i)
          sumTwo += <f64>load<f32>(two + i)
        }
      const gain = sumTwo > 0 ? sumOne / sumTwo : 1
      let squares: f64 = 0
      for (let y: usize = 0, row = at, into = to; y < <usize>SIDE; y++, row += <usize>width * 12)
        for (let i = row; i < row + <usize>SIDE * 12; i += 12, into += 8) {
          const v = (<f64>load<f32>(one + i) - gain * <f64>load<f32>(two + i)) * Math.SQRT1_2
          store<f64>(into, v)
          squares += v * v
        }
      const place = (<usize>t * 3 + c) << 3
      const mean = (sumOne + sumTwo) / <f64>(2 * PIXELS)
      store<f64>(light + place, max<f64>(mean, 0))
      store<f64>(variance + place, squares / <f64>PIXELS)
    }
}

/**
 * Adds up products of a tile's channels, each brought to one strength, over tiles that count.
 *
 * @param counts a byte per tile: 0 leaves it out
 * @param scale  per tile three factors
 * @param sums   3 x 3; they are added to
 */
export function tileProducts(tiles: usize, counts: usize, scale: usize, count: i32, sums: usize): void {
  for (let t = 0; t < count; t++) {
    if (load<u8>(counts + <usize>t) === 0) continue
    const at = tiles + <usize>t * 3 * CHANNEL
    const by = scale + ((<usize>t * 3) << 3)
    for (let a: usize = 0; a < 3; a++)
      for (let b: usize = a; b < 3; b++) {
        const ka = load<f64>(by + (a << 3))
        const kb = load<f64>(by + (b << 3))
        const one = at + a * CHANNEL
        const two = at + b * CHANNEL
        let sum: f64 = 0
        for (let i: usize = 0; i < CHANNEL; i += 8) sum += load<f64>(one + i) * ka * (load<f64>(two + i) * kb)
        const to = sums + ((3 * a + b) << 3)
        store<f64>(to, load<f64>(to) + sum)
        if (a === b) continue
        const across = sums + ((3 * b + a) << 3)
        store<f64>(across, load<f64>(across) + sum)
      }
  }
}

/**
 * Adds up the power of mixtures of a tile's channels at each frequency, over tiles that count: the squared length of the
 * discrete Fourier transform of the windowed tile, over the number of its samples.
 *
 * @param scale   per tile three factors of its channels
 * @param mix     3 x 3: row j has what component j takes of R, G and B
 * @param window  a factor per sample
 * @param twiddle cosine and sine of k / SIDE of a circle, a pair each
 * @param room    5 * PIXELS doubles
 * @param spectra three of PIXELS; they are added to
 */
export function addTilePower(
  tiles: usize,
  counts: usize,
  scale: usize,
  count: i32,
  mix: usize,
  window: usize,
  twiddle: usize,
  room: usize,
  spectra: usize,
): void {
  for (let t = 0; t < count; t++) {
    if (load<u8>(counts + <usize>t) === 0) continue
    const at = tiles + <usize>t * 3 * CHANNEL
    const by = scale + ((<usize>t * 3) << 3)
    const r = f64x2.splat(load<f64>(by))
    const g = f64x2.splat(load<f64>(by, 8))
    const b = f64x2.splat(load<f64>(by, 16))
    for (let j: usize = 0; j < 3; j++) {
      const row = mix + 24 * j
      const mr = f64x2.mul(r, f64x2.splat(load<f64>(row)))
      const mg = f64x2.mul(g, f64x2.splat(load<f64>(row, 8)))
      const mb = f64x2.mul(b, f64x2.splat(load<f64>(row, 16)))
      for (let i: usize = 0; i < CHANNEL; i += 16) {
        const v = f64x2.add(
          f64x2.add(f64x2.mul(mr, v128.load(at + i)), f64x2.mul(mg, v128.load(at + i + CHANNEL))),
          f64x2.mul(mb, v128.load(at + i + 2 * CHANNEL)),
        )
        v128.store(room + i, f64x2.mul(v, v128.load(window + i)))
      }
      addTransformed(room, twiddle, spectra + j * CHANNEL)
    }
  }
}

/**
 * Adds up the power of one channel of tiles of a picture at each frequency, each tile's mean taken out.
 *
 * @param rgb     interleaved, so many pixels wide; `corners` are where tiles begin in it, pixels
 * @param channel 0 to 2
 * @param window, twiddle, room as above
 * @param spectrum PIXELS doubles; it is added to
 */
export function addChannelPower(
  rgb: usize,
  width: i32,
  channel: usize,
  corners: usize,
  count: i32,
  window: usize,
  twiddle: usize,
  room: usize,
  spectrum: usize,
): void {
  for (let t: usize = 0; t < <usize>count; t++) {
    const at = rgb + <usize>load<i32>(corners + (t << 2)) * 12 + (channel << 2)
    let sum: f64 = 0
    for (let y: usize = 0, row = at, to = room; y < <usize>SIDE; y++, row += <usize>width * 12)
      for (let i = row; i < row + <usize>SIDE * 12; i += 12, to += 8) {
        const v = <f64>load<f32>(i)
        store<f64>(to, v)
        sum += v
      }
    const mean = f64x2.splat(sum / <f64>PIXELS)
    for (let i: usize = 0; i < CHANNEL; i += 16)
      v128.store(room + i, f64x2.mul(f64x2.sub(v128.load(room + i), mean), v128.load(window + i)))
    addTransformed(room, twiddle, spectrum)
  }
}

/** Adds the power of a windowed tile at the beginning of `room`. */
function addTransformed(room: usize, twiddle: usize, spectrum: usize): void {
  const re = room + CHANNEL
  const im = room + 2 * CHANNEL
  const acrossRe = room + 3 * CHANNEL
  const acrossIm = room + 4 * CHANNEL
  // Down the columns, of which all are real: the lower half of the rows that come out mirrors the upper.
  for (let x: usize = 0; x < 128; x += 16) columns(room + x, 0, re + x, im + x, twiddle)
  turn(re, acrossRe)
  turn(im, acrossIm)
  for (let y: usize = 0; y < 80; y += 16) columns(acrossRe + y, acrossIm + y, re + y, im + y, twiddle)
  addPower(re, im, spectrum)
}

/** Fourier transforms of two columns side by side, four by four (J. Cooley, J. Tukey, 1965). @param im 0: they are real */
function columns(re: usize, im: usize, outRe: usize, outIm: usize, twiddle: usize): void {
  const zero = f64x2.splat(0)
  for (let n: usize = 0; n < 4; n++) {
    const a = n << 7
    const b = a + 512
    const c = b + 512
    const d = c + 512
    const ar = v128.load(re + a)
    const br = v128.load(re + b)
    const cr = v128.load(re + c)
    const dr = v128.load(re + d)
    const ai = im === 0 ? zero : v128.load(im + a)
    const bi = im === 0 ? zero : v128.load(im + b)
    const ci = im === 0 ? zero : v128.load(im + c)
    const di = im === 0 ? zero : v128.load(im + d)
    const sr = f64x2.add(ar, cr)
    const si = f64x2.add(ai, ci)
    const tr = f64x2.sub(ar, cr)
    const ti = f64x2.sub(ai, ci)
    const ur = f64x2.add(br, dr)
    const ui = f64x2.add(bi, di)
    const vr = f64x2.sub(br, dr)
    const vi = f64x2.sub(bi, di)
    // Frequency k of these four, turned by n * k sixteenths, at row 4 n + k.
    const to = n << 9
    v128.store(outRe + to, f64x2.add(sr, ur))
    v128.store(outIm + to, f64x2.add(si, ui))
    turned(f64x2.add(tr, vi), f64x2.sub(ti, vr), n, outRe + to + 128, outIm + to + 128, twiddle)
    turned(f64x2.sub(sr, ur), f64x2.sub(si, ui), 2 * n, outRe + to + 256, outIm + to + 256, twiddle)
    turned(f64x2.sub(tr, vi), f64x2.add(ti, vr), 3 * n, outRe + to + 384, outIm + to + 384, twiddle)
  }
  for (let k: usize = 0; k < 4; k++) {
    const a = k << 7
    const b = a + 512
    const c = b + 512
    const d = c + 512
    const ar = v128.load(outRe + a)
    const br = v128.load(outRe + b)
    const cr = v128.load(outRe + c)
    const dr = v128.load(outRe + d)
    const ai = v128.load(outIm + a)
    const bi = v128.load(outIm + b)
    const ci = v128.load(outIm + c)
    const di = v128.load(outIm + d)
    const sr = f64x2.add(ar, cr)
    const si = f64x2.add(ai, ci)
    const tr = f64x2.sub(ar, cr)
    const ti = f64x2.sub(ai, ci)
    const ur = f64x2.add(br, dr)
    const ui = f64x2.add(bi, di)
    const vr = f64x2.sub(br, dr)
    const vi = f64x2.sub(bi, di)
    // Frequency k + 4 m lies where block m was.
    v128.store(outRe + a, f64x2.add(sr, ur))
    v128.store(outIm + a, f64x2.add(si, ui))
    v128.store(outRe + b, f64x2.add(tr, vi))
    v128.store(outIm + b, f64x2.sub(ti, vr))
    v128.store(outRe + c, f64x2.sub(sr, ur))
    v128.store(outIm + c, f64x2.sub(si, ui))
    v128.store(outRe + d, f64x2.sub(tr, vi))
    v128.store(outIm + d, f64x2.add(ti, vr))
  }
}

/** Stores samples turned backwards by so many sixteenths of a circle. */
function turned(re: v128, im: v128, sixteenths: usize, outRe: usize, outIm: usize, twiddle: usize): void {
  const cos = v128.load64_splat(twiddle + (sixteenths << 4))
  const sin = v128.load64_splat(twiddle + (sixteenths << 4), 8)
  v128.store(outRe, f64x2.add(f64x2.mul(re, cos), f64x2.mul(im, sin)))
  v128.store(outIm, f64x2.sub(f64x2.mul(im, cos), f64x2.mul(re, sin)))
}

/** Rows become columns. */
function turn(from: usize, to: usize): void {
  for (let y: usize = 0; y < 16; y++)
    for (let x: usize = 0; x < 16; x++)
      store<f64>(to + ((x * 16 + y) << 3), load<f64>(from + ((y * 16 + x) << 3)))
}

/** @param re frequency across in rows, down in columns, of which the upper half is there */
function addPower(re: usize, im: usize, spectrum: usize): void {
  for (let y = 0; y < SIDE; y++)
    for (let x = 0; x < SIDE; x++) {
      const mirrored = y > SIDE / 2
      const v = mirrored ? SIDE - y : y
      const u = mirrored ? (SIDE - x) & (SIDE - 1) : x
      const at = (<usize>(u * SIDE + v)) << 3
      const a = load<f64>(re + at)
      const b = load<f64>(im + at)
      const to = spectrum + ((<usize>(y * SIDE + x)) << 3)
      store<f64>(to, load<f64>(to) + (a * a + b * b) / <f64>PIXELS)
    }
}
