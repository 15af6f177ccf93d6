// A picture moved by any transform: each pixel of the result looks up where it comes from (G. Wolberg, Digital Image
// Warping, 1990, inverse mapping) and weighs the samples round that place, with the filter stretched where the source is
// made smaller. What is weighed is defined in src/raster/footprint.ts. AssemblyScript.

/** Steps that a filter is tabled in, per pixel; as in src/kernels/filter-tables.ts. */
const STEPS: f64 = 2048
/** As in src/raster/footprint.ts. */
const MAX_STRETCH: f64 = 8
/** Further than any picture is wide: all of it is edge there, on the horizon and behind it. */
const FAR_PX: f64 = 1073741824

/** A turn's sines and cosines add up to 1 but for rounding. */
const NOT_SMALLER: f64 = 1 + 1e-9

/** The first source pixel of a row or column of taps, after the call that weighed it. */
let start: i32 = 0

/**
 * Moves a picture and cuts a rectangle from it.
 *
 * @param source   `channels` samples a pixel, of 3 with room for one more at the end
 * @param channels 1 or 3
 * @param back     9 float64: takes a pixel of the result, counted from its own corner, to the source, from its corner
 * @param affine   1 where the last row of `back` is 0, 0 and a number
 * @param radius   of the filter; 0 takes the nearest sample
 * @param phases   its weights at every step from one sample to the next, 2 * radius of them, float32
 * @param profile  its values from the middle outwards, float32
 * @param cut      1 leaves NaN where the source does not cover a pixel, 0 repeats its edge there
 * @param weights  room for 4 * (radius * MAX_STRETCH + 2) samples
 */
export function warp(
  source: usize,
  sourceWidth: i32,
  sourceHeight: i32,
  channels: i32,
  back: usize,
  affine: i32,
  radius: i32,
  phases: usize,
  profile: usize,
  cut: i32,
  weights: usize,
  out: usize,
  width: i32,
  height: i32,
): void {
  const xx = load<f64>(back)
  const xy = load<f64>(back, 8)
  const x1 = load<f64>(back, 16)
  const yx = load<f64>(back, 24)
  const yy = load<f64>(back, 32)
  const y1 = load<f64>(back, 40)
  const wx = load<f64>(back, 48)
  const wy = load<f64>(back, 56)
  const w1 = load<f64>(back, 64)
  const across = weights
  const down = weights + ((<usize>radius * <usize>MAX_STRETCH * 2 + 4) << 2)
  const right = <f64>sourceWidth - 0.5
  const bottom = <f64>sourceHeight - 0.5
  let stretchX: f64 = 1
  let stretchY: f64 = 1
  if (affine === 1 && radius > 0) {
    stretchX = stretchOf(xx / w1, xy / w1)
    stretchY = stretchOf(yx / w1, yy / w1)
  }
  let to = out
  for (let y = 0; y < height; y++) {
    const rowX = xy * <f64>y + x1
    const rowY = yy * <f64>y + y1
    const rowW = wy * <f64>y + w1
    for (let x = 0; x < width; x++) {
      const over = 1 / (wx * <f64>x + rowW)
      const px = within((xx * <f64>x + rowX) * over)
      const py = within((yx * <f64>x + rowY) * over)
      if (cut === 1 && !(px >= -0.5 && py >= -0.5 && px < right && py < bottom)) {
        for (let c = 0; c < channels; c++, to += 4) store<f32>(to, NaN)
        continue
      }
      if (affine === 0 && radius > 0) {
        stretchX = stretchOf((xx - px * wx) * over, (xy - px * wy) * over)
        stretchY = stretchOf((yx - py * wx) * over, (yy - py * wy) * over)
      }
      const columns = weigh(px, stretchX, radius, phases, profile, across)
      const left = start
      const rows = weigh(py, stretchY, radius, phases, profile, down)
      const top = start
      if (left < 0 || top < 0 || left + columns > sourceWidth || top + rows > sourceHeight) {
        for (let c = 0; c < channels; c++, to += 4)
          store<f32>(
            to,
            atEdge(source, sourceWidth, sourceHeight, channels, c, left, top, columns, rows, across, down),
          )
      } else if (channels === 3) {
        const stride = <usize>sourceWidth * 12
        let from = source + <usize>(top * sourceWidth + left) * 12
        let sum = f32x4.splat(0)
        for (let k = 0; k < rows; k++, from += stride) {
          let along = f32x4.splat(0)
          for (let j = 0; j < columns; j++)
            along = f32x4.add(
              along,
              f32x4.mul(v128.load32_splat(across + ((<usize>j) << 2)), v128.load(from + <usize>j * 12)),
            )
          sum = f32x4.add(sum, f32x4.mul(v128.load32_splat(down + ((<usize>k) << 2)), along))
        }
        store<f32>(to, f32x4.extract_lane(sum, 0))
        store<f32>(to, f32x4.extract_lane(sum, 1), 4)
        store<f32>(to, f32x4.extract_lane(sum, 2), 8)
        to += 12
      } else {
        const stride = (<usize>sourceWidth) << 2
        let from = source + ((<usize>(top * sourceWidth + left)) << 2)
        let sum: f32 = 0
        for (let k = 0; k < rows; k++, from += stride) {
          let along: f32 = 0
          for (let j: usize = 0; j < (<usize>columns) << 2; j += 4)
            along += load<f32>(across + j) * load<f32>(from + j)
          sum += load<f32>(down + ((<usize>k) << 2)) * along
        }
        store<f32>(to, sum)
        to += 4
      }
    }
  }
}

/** The taps round a place; how many, and in `start` the first. */
function weigh(place: f64, stretch: f64, radius: i32, phases: usize, profile: usize, weights: usize): i32 {
  if (radius === 0) {
    start = <i32>Math.ceil(place - 0.5)
    store<f32>(weights, 1)
    return 1
  }
  if (stretch <= 1) {
    const base = Math.floor(place)
    start = <i32>base - radius + 1
    const step = (place - base) * STEPS
    const whole = <i32>step
    const part = <f32>(step - <f64>whole)
    const n = radius << 1
    let from = phases + ((<usize>(whole * n)) << 2)
    const next = (<usize>n) << 2
    for (let i: usize = 0; i < next; i += 4, from += 4) {
      const value = load<f32>(from)
      store<f32>(weights + i, value + part * (load<f32>(from + next) - value))
    }
    return n
  }
  const reach = <f64>radius * stretch
  const first = Math.ceil(place - reach)
  start = <i32>first
  const n = <i32>(Math.floor(place + reach) - first) + 1
  const scale = STEPS / stretch
  let at = (first - place) * scale
  let sum: f32 = 0
  for (let k: usize = 0; k < (<usize>n) << 2; k += 4, at += scale) {
    const step = abs(at)
    const whole = <i32>step
    const from = profile + ((<usize>whole) << 2)
    const value = load<f32>(from)
    const weight = value + <f32>(step - <f64>whole) * (load<f32>(from, 4) - value)
    store<f32>(weights + k, weight)
    sum += weight
  }
  const even: f32 = 1 / sum
  for (let k: usize = 0; k < (<usize>n) << 2; k += 4) store<f32>(weights + k, load<f32>(weights + k) * even)
  return n
}

/** One channel's sum where taps lie beyond the source. */
function atEdge(
  source: usize,
  width: i32,
  height: i32,
  channels: i32,
  channel: i32,
  left: i32,
  top: i32,
  columns: i32,
  rows: i32,
  across: usize,
  down: usize,
): f32 {
  let sum: f32 = 0
  for (let k = 0; k < rows; k++) {
    const row = min(max(top + k, 0), height - 1) * width
    let along: f32 = 0
    for (let j = 0; j < columns; j++) {
      const at = (row + min(max(left + j, 0), width - 1)) * channels + channel
      along += load<f32>(across + ((<usize>j) << 2)) * load<f32>(source + ((<usize>at) << 2))
    }
    sum += load<f32>(down + ((<usize>k) << 2)) * along
  }
  return sum
}

function stretchOf(byX: f64, byY: f64): f64 {
  const square = byX * byX + byY * byY
  // Not a number on the horizon, where all is edge.
  return square > NOT_SMALLER ? min(MAX_STRETCH, sqrt(square)) : 1
}

function within(place: f64): f64 {
  return place > -FAR_PX ? min(FAR_PX, place) : -FAR_PX
}
