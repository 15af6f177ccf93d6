// Pixel by pixel what a patch is made of, and laying it over the plate. AssemblyScript; what is told in float64 is rounded to
// float32 only where it is stored.

const ALL: i32 = 0xf

/**
 * How much of noise each pixel takes and how much of its own detail makes room for it, two pixels at a time: as
 * `src/repair/grain/fit.ts` has it.
 *
 * @param strength standard deviation of grain at each pixel's light, float32; so `own`, the variance of its detail, and `energy`,
 *                 what that is to be; all with room up to a multiple of four
 * @param where    a factor of the strength; 0: 1 everywhere
 * @param alpha    takes noise where it is above 0
 * @param piece    a factor of all that it takes; 0: 1 everywhere
 * @param change   variance of the detail of noise of strength 1 that is new on each frame; `absent` of noise that lasts
 * @param stays    receives the factor of a pixel's own detail; `fresh` and `lasting` the factors of noise
 */
export function fitNoise(
  strength: usize,
  where: usize,
  own: usize,
  energy: usize,
  alpha: usize,
  piece: usize,
  change: f64,
  absent: f64,
  carried: f64,
  stays: usize,
  fresh: usize,
  lasting: usize,
  length: i32,
): void {
  const zero = f32x4.splat(0)
  const one = f32x4.splat(1)
  const end = (<usize>length) << 2
  for (let i: usize = 0; i < end; i += 16) {
    let takes = v128.and(f32x4.gt(v128.load(alpha + i), zero), one)
    if (piece !== 0) takes = v128.bitselect(v128.load(piece + i), zero, f32x4.gt(takes, zero))
    if (!v128.any_true(f32x4.ne(takes, zero))) {
      v128.store(stays + i, one)
      v128.store(fresh + i, zero)
      v128.store(lasting + i, zero)
      continue
    }
    fitTwo(strength, where, own, energy, i, change, absent, carried, stays, fresh, lasting)
    fitTwo(strength, where, own, energy, i + 8, change, absent, carried, stays, fresh, lasting)
    v128.store(fresh + i, f32x4.mul(v128.load(fresh + i), takes))
    v128.store(lasting + i, f32x4.mul(v128.load(lasting + i), takes))
    const detail = v128.load(stays + i)
    v128.store(stays + i, narrow(left(takes, detail), left(upper(takes), upper(detail))))
  }
}

/** What is left of detail where a share is brought down, of the two lower lanes, in float64. */
function left(share: v128, stays: v128): v128 {
  const one = f64x2.splat(1)
  const gone = f64x2.sub(one, f64x2.promote_low_f32x4(stays))
  return f64x2.sub(one, f64x2.mul(f64x2.promote_low_f32x4(share), gone))
}

function upper(v: v128): v128 {
  return v128.shuffle<f64>(v, v, 1, 0)
}

function narrow(low: v128, high: v128): v128 {
  return v128.shuffle<f64>(f32x4.demote_f64x2_zero(low), f32x4.demote_f64x2_zero(high), 0, 2)
}

function two(at: usize): v128 {
  return f64x2.promote_low_f32x4(v128.load64_zero(at))
}

/** Of two pixels that take all of it. */
function fitTwo(
  strength: usize,
  where: usize,
  ownAt: usize,
  energy: usize,
  i: usize,
  change: f64,
  absent: f64,
  carried: f64,
  stays: usize,
  fresh: usize,
  lasting: usize,
): void {
  const zero = f64x2.splat(0)
  const one = f64x2.splat(1)
  let sigma = two(strength + i)
  if (where !== 0) sigma = f64x2.mul(sigma, two(where + i))
  const unit = f64x2.mul(sigma, sigma)
  const wanted = f64x2.mul(f64x2.splat(change), unit)
  const lost = f64x2.mul(f64x2.splat(absent), unit)
  const own = two(ownAt + i)
  // Few pixels tell of the donors' detail: where it is less than grain alone has, it is by chance.
  const whole = f64x2.max(f64x2.max(two(energy + i), own), wanted)
  const isFull = f64x2.ge(f64x2.add(own, wanted), whole)
  const room = f64x2.min(f64x2.sub(whole, own), f64x2.max(lost, wanted))
  const lasts = carried > 0 ? f64x2.min(lost, f64x2.div(f64x2.sub(room, wanted), f64x2.splat(carried))) : zero
  const rest = f64x2.max(zero, f64x2.sub(wanted, f64x2.mul(f64x2.splat(1 - carried), lasts)))
  const made = v128.bitselect(wanted, rest, isFull)
  const makesRoom = f64x2.min(one, f64x2.sqrt(f64x2.div(f64x2.sub(whole, wanted), own)))
  const isLess = v128.and(isFull, f64x2.gt(own, zero))
  store2(stays + i, v128.bitselect(makesRoom, one, isLess))
  const isNew = f64x2.gt(wanted, zero)
  store2(fresh + i, v128.and(isNew, f64x2.sqrt(f64x2.div(made, wanted))))
  const isLost = v128.andnot(f64x2.gt(lost, zero), isFull)
  store2(lasting + i, v128.and(isLost, f64x2.sqrt(f64x2.div(f64x2.max(zero, lasts), lost))))
}

function store2(at: usize, v: v128): void {
  v128.store64_lane(at, f32x4.demote_f64x2_zero(v), 0)
}

/**
 * Sums over the pixels that a patch covers altogether, float64, in their order.
 *
 * @param out     a byte per pixel: 1 leaves it out; 0: none is left out
 * @param sums    receives those of `own` and of `energy`
 */
export function energySums(
  own: usize,
  energy: usize,
  alpha: usize,
  out: usize,
  length: i32,
  sums: usize,
): void {
  let a: f64 = 0
  let b: f64 = 0
  for (let i: usize = 0; i < <usize>length; i++) {
    if (load<f32>(alpha + (i << 2)) !== 1) continue
    if (out !== 0 && load<u8>(out + i) !== 0) continue
    a += <f64>load<f32>(own + (i << 2))
    b += <f64>load<f32>(energy + (i << 2))
  }
  store<f64>(sums, a)
  store<f64>(sums, b, 8)
}

/** Mean of green where alpha is above 0, of what is finite; 0 where nothing is. @param rgb interleaved */
export function greenMean(rgb: usize, alpha: usize, length: i32): f64 {
  let sum: f64 = 0
  let n = 0
  for (let i: usize = 0; i < <usize>length; i++) {
    if (!(load<f32>(alpha + (i << 2)) > 0)) continue
    const green = load<f32>(rgb + i * 12, 4)
    // Of infinity and of NaN nothing is left over.
    if (green - green !== 0) continue
    sum += <f64>green
    n++
  }
  return n > 0 ? sum / <f64>n : 0
}

/** Sums of R, G and B over the pixels that count as 1, in their order. @param sums receives them */
export function channelSums(rgb: usize, counts: usize, length: i32, sums: usize): void {
  let both = f64x2.splat(0)
  let blue: f64 = 0
  for (let i: usize = 0; i < <usize>length; i++) {
    if (load<f32>(counts + (i << 2)) !== 1) continue
    both = f64x2.add(both, two(rgb + i * 12))
    blue += <f64>load<f32>(rgb + i * 12, 8)
  }
  v128.store(sums, both)
  store<f64>(sums, blue, 16)
}

/** Adds `factor` times a field, and times a share of each sample where that is not 0, in float64. */
export function addScaled(field: usize, share: usize, factor: f64, into: usize, length: i32): void {
  const times = f64x2.splat(factor)
  const end = (<usize>length) << 2
  for (let i: usize = 0; i < end; i += 8) {
    const by = share === 0 ? times : f64x2.mul(two(share + i), times)
    store2(into + i, f64x2.add(two(into + i), f64x2.mul(by, two(field + i))))
  }
}

/**
 * Adds `factor` times a picture whose channels are multiplied first, as `gained` has them: that in float32, the sum in float64.
 *
 * @param picture interleaved RGB, so `into`
 */
export function addGained(
  picture: usize,
  red: f32,
  green: f32,
  blue: f32,
  factor: f64,
  into: usize,
  length: i32,
): void {
  const times = f64x2.splat(factor)
  const ga = f32x4(red, green, blue, red)
  const gb = f32x4(green, blue, red, green)
  const gc = f32x4(blue, red, green, blue)
  // Whole vectors up to the end of the buffers, which have room for them.
  const end = <usize>length * 12
  for (let i: usize = 0; i < end; i += 48) {
    addFour(picture + i, ga, times, into + i)
    if (i + 16 < end) addFour(picture + i + 16, gb, times, into + i + 16)
    if (i + 32 < end) addFour(picture + i + 32, gc, times, into + i + 32)
  }
}

function addFour(picture: usize, gain: v128, times: v128, into: usize): void {
  const own = f32x4.add(f32x4.splat(0), f32x4.mul(v128.load(picture), gain))
  const low = f64x2.add(two(into), f64x2.mul(times, f64x2.promote_low_f32x4(own)))
  const high = f64x2.add(two(into + 8), f64x2.mul(times, f64x2.promote_low_f32x4(upper(own))))
  v128.store(into, narrow(low, high))
}

/**
 * Lays a patch over a picture, interleaved RGB: where alpha is 0 the picture's own samples stay, where it is 1, or the sample
 * under it is not finite, the patch's, else both are mixed in float64.
 *
 * @param out may be neither of both
 */
export function layOver(patch: usize, alpha: usize, under: usize, out: usize, length: i32): void {
  const zero = f32x4.splat(0)
  const one = f32x4.splat(1)
  let i = 0
  for (; i + 4 <= length; i += 4) {
    const a = v128.load(alpha + ((<usize>i) << 2))
    const at = <usize>i * 12
    const from = (i32x4.bitmask(f32x4.eq(a, one)) === ALL ? patch : under) + at
    v128.store(out + at, v128.load(from))
    v128.store(out + at, v128.load(from, 16), 16)
    v128.store(out + at, v128.load(from, 32), 32)
    if (from === under + at && v128.any_true(f32x4.ne(a, zero))) layPixels(patch, alpha, under, out, i, i + 4)
  }
  memory.copy(out + <usize>i * 12, under + <usize>i * 12, <usize>(length - i) * 12)
  layPixels(patch, alpha, under, out, i, length)
}

function layPixels(patch: usize, alpha: usize, under: usize, out: usize, from: i32, to: i32): void {
  for (let i = <usize>from; i < <usize>to; i++) {
    const a = <f64>load<f32>(alpha + (i << 2))
    if (a === 0) continue
    for (let at = i * 12; at < i * 12 + 12; at += 4) {
      const own = load<f32>(patch + at)
      const below = load<f32>(under + at)
      const mixed = a * <f64>own + (1 - a) * <f64>below
      // Of infinity and of NaN nothing is left over.
      store<f32>(out + at, a === 1 || below - below !== 0 ? own : <f32>mixed)
    }
  }
}
