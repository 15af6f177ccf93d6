// The finest of one picture put in the place of another's, interleaved RGB. AssemblyScript; told in float64, and rounded to
// float32 only where it is stored.

/** Writes 1 where a mask is above 0 and both bytes are 1, else 0. */
export function commonPixels(inside: usize, there: usize, also: usize, out: usize, length: i32): void {
  for (let i: usize = 0; i < <usize>length; i++) {
    const counts = load<f32>(inside + (i << 2)) > 0 && load<u8>(there + i) === 1 && load<u8>(also + i) === 1
    store<f32>(out + (i << 2), counts ? 1 : 0)
  }
}

/**
 * `change` times what a donor differs by where a pixel counts as 1, else 0.
 *
 * @param red,green,blue receive a plane each, with room up to a multiple of four
 */
export function finestOf(
  own: usize,
  donor: usize,
  counts: usize,
  change: f64,
  red: usize,
  green: usize,
  blue: usize,
  length: i32,
): void {
  const one = f32x4.splat(1)
  const zero = f32x4.splat(0)
  let i: usize = 0
  for (; i + 4 <= <usize>length; i += 4) {
    const on = f32x4.eq(v128.load(counts + (i << 2)), one)
    if (!v128.any_true(on)) {
      v128.store(red + (i << 2), zero)
      v128.store(green + (i << 2), zero)
      v128.store(blue + (i << 2), zero)
      continue
    }
    const at = i * 12
    const a = changed(own + at, donor + at, change)
    const b = changed(own + at + 16, donor + at + 16, change)
    const c = changed(own + at + 32, donor + at + 32, change)
    v128.store(
      red + (i << 2),
      v128.and(on, v128.shuffle<f32>(v128.shuffle<f32>(a, b, 0, 3, 6, 6), c, 0, 1, 2, 5)),
    )
    v128.store(
      green + (i << 2),
      v128.and(on, v128.shuffle<f32>(v128.shuffle<f32>(a, b, 1, 4, 7, 7), c, 0, 1, 2, 6)),
    )
    v128.store(
      blue + (i << 2),
      v128.and(on, v128.shuffle<f32>(v128.shuffle<f32>(a, b, 2, 5, 5, 5), c, 0, 1, 4, 7)),
    )
  }
  for (; i < <usize>length; i++) {
    const on = load<f32>(counts + (i << 2)) === 1
    const at = i * 12
    store<f32>(red + (i << 2), on ? changedOne(own + at, donor + at, change) : 0)
    store<f32>(green + (i << 2), on ? changedOne(own + at + 4, donor + at + 4, change) : 0)
    store<f32>(blue + (i << 2), on ? changedOne(own + at + 8, donor + at + 8, change) : 0)
  }
}

/** Of four samples. */
function changed(own: usize, donor: usize, change: f64): v128 {
  const by = f64x2.splat(change)
  const low = f64x2.mul(by, f64x2.sub(two(donor), two(own)))
  const high = f64x2.mul(by, f64x2.sub(two(donor + 8), two(own + 8)))
  return narrow(low, high)
}

function changedOne(own: usize, donor: usize, change: f64): f32 {
  return <f32>(change * (<f64>load<f32>(donor) - <f64>load<f32>(own)))
}

function two(at: usize): v128 {
  return f64x2.promote_low_f32x4(v128.load64_zero(at))
}

function narrow(low: v128, high: v128): v128 {
  return v128.shuffle<f64>(f32x4.demote_f64x2_zero(low), f32x4.demote_f64x2_zero(high), 0, 2)
}

/**
 * Adds it, less its mean over the pixels round about that count.
 *
 * @param red,green,blue                what is added, a plane each
 * @param lightRed,lightGreen,lightBlue mean of it over all round about
 * @param around                        share of them that count; all with room up to a multiple of four
 */
export function addFinest(
  red: usize,
  green: usize,
  blue: usize,
  lightRed: usize,
  lightGreen: usize,
  lightBlue: usize,
  around: usize,
  counts: usize,
  own: usize,
  length: i32,
): void {
  const one = f32x4.splat(1)
  const last = length - 1
  for (let i = 0; i < length; i += 4) {
    const at = (<usize>i) << 2
    const on = i32x4.bitmask(f32x4.eq(v128.load(counts + at), one))
    if (on === 0) continue
    const near = around + at
    for (let k = 0; k < 4; k += 2) {
      const pair = (on >> k) & 3
      if (pair === 0 || i + k > last) continue
      const by = (<usize>k) << 2
      const share = two(near + by)
      const r = lessMean(red + at + by, lightRed + at + by, share)
      const g = lessMean(green + at + by, lightGreen + at + by, share)
      const b = lessMean(blue + at + by, lightBlue + at + by, share)
      const to = own + <usize>(i + k) * 12
      if ((pair & 1) !== 0)
        addPixel(to, f64x2.extract_lane(r, 0), f64x2.extract_lane(g, 0), f64x2.extract_lane(b, 0))
      if ((pair & 2) !== 0 && i + k + 1 <= last)
        addPixel(to + 12, f64x2.extract_lane(r, 1), f64x2.extract_lane(g, 1), f64x2.extract_lane(b, 1))
    }
  }
}

/** Of two pixels. */
function lessMean(more: usize, light: usize, share: v128): v128 {
  return f64x2.sub(two(more), f64x2.div(two(light), share))
}

function addPixel(at: usize, r: f64, g: f64, b: f64): void {
  store<f32>(at, <f32>(<f64>load<f32>(at) + r))
  store<f32>(at, <f32>(<f64>load<f32>(at, 4) + g), 4)
  store<f32>(at, <f32>(<f64>load<f32>(at, 8) + b), 8)
}
