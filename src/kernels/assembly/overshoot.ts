// A picture that was moved by a filter with negative weights, kept within what its source has round each place. AssemblyScript.

/** As in warp.ts, and small enough for a whole number. */
const FAR_PX: f64 = 268435456
/** The top of a wave may lie between samples: beyond them by so much of what they span, */
const OF_SPAN: f32 = 0.25
/** ... and of their light, which no eye takes for a line. */
const OF_LIGHT: f32 = 0.05

/**
 * @param source interleaved RGB
 * @param back   9 float64: takes a pixel of the result, counted from its own corner, to the source, from its corner
 * @param reach  samples to either side of a place that are looked at
 * @param out    interleaved RGB of the result; changed
 */
export function keepWithin(
  source: usize,
  sourceWidth: i32,
  sourceHeight: i32,
  back: usize,
  reach: i32,
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
  const lastX = sourceWidth - 1
  const lastY = sourceHeight - 1
  let to = out
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++, to += 12) {
      const over = 1 / (wx * <f64>x + wy * <f64>y + w1)
      const column0 = before((xx * <f64>x + xy * <f64>y + x1) * over)
      const row0 = before((yx * <f64>x + yy * <f64>y + y1) * over)
      const own = v128.load(to - 4)
      if (liesAmong(own, source, sourceWidth, column0, row0, lastX, lastY)) continue
      const left = column0 - reach + 1
      const top = row0 - reach + 1
      const from = min(max(left, 0), lastX)
      const until = min(max(left + 2 * reach - 1, 0), lastX)
      let least = f32x4.splat(f32.MAX_VALUE)
      let most = f32x4.splat(-f32.MAX_VALUE)
      for (let row = min(max(top, 0), lastY); row <= min(max(top + 2 * reach - 1, 0), lastY); row++) {
        // A pixel and the sample before it: none is read behind the last.
        let at = source + <usize>(row * sourceWidth + from) * 12 - 4
        for (let column = from; column <= until; column++, at += 12) {
          const pixel = v128.load(at)
          least = f32x4.pmin(least, pixel)
          most = f32x4.pmax(most, pixel)
        }
      }
      const kept = within(own, least, most)
      store<f32>(to, f32x4.extract_lane(kept, 1))
      store<f32>(to, f32x4.extract_lane(kept, 2), 4)
      store<f32>(to, f32x4.extract_lane(kept, 3), 8)
    }
}

/**
 * The same of a picture that was shifted, where each place has all of its samples: one row's least and most are found down the source's
 * columns first, and then across.
 *
 * @param source interleaved RGB, from the first sample that the first pixel of the result looks at
 * @param span   samples in each direction that are looked at
 * @param room   for 6 * (width + span - 1) float32
 * @param out    interleaved RGB of the result, at least two pixels wide; changed
 */
export function keepShifted(
  source: usize,
  sourceWidth: i32,
  span: i32,
  room: usize,
  out: usize,
  width: i32,
  height: i32,
): void {
  const pitch = <usize>sourceWidth * 12
  const columns = (<usize>(3 * (width + span - 1))) << 2
  const samples = (<usize>(3 * width)) << 2
  const highest = room + columns
  for (let y = 0; y < height; y++) {
    const top = source + <usize>y * pitch
    // The last vector lies over the one before it, so that none reaches beyond the end.
    for (let i: usize = 0; i < columns; i += 16) {
      const x = min(i, columns - 16)
      let least = v128.load(top + x)
      let most = least
      let at = top + x + pitch
      for (let k = 1; k < span; k++, at += pitch) {
        const sample = v128.load(at)
        least = f32x4.pmin(least, sample)
        most = f32x4.pmax(most, sample)
      }
      v128.store(room + x, least)
      v128.store(highest + x, most)
    }
    const row = out + <usize>y * samples
    for (let i: usize = 0; i < samples; i += 16) {
      const x = min(i, samples - 16)
      let least = v128.load(room + x)
      let most = v128.load(highest + x)
      const end = x + <usize>span * 12
      for (let k = x + 12; k < end; k += 12) {
        least = f32x4.pmin(least, v128.load(room + k))
        most = f32x4.pmax(most, v128.load(highest + k))
      }
      v128.store(row + x, within(v128.load(row + x), least, most))
    }
  }
}

/** Samples brought to what is allowed beside the least and the most round them. */
function within(own: v128, least: v128, most: v128): v128 {
  const span = f32x4.mul(f32x4.splat(OF_SPAN), f32x4.sub(most, least))
  const below = f32x4.sub(least, f32x4.pmin(span, f32x4.mul(f32x4.splat(OF_LIGHT), f32x4.abs(least))))
  const above = f32x4.add(most, f32x4.pmin(span, f32x4.mul(f32x4.splat(OF_LIGHT), f32x4.abs(most))))
  return f32x4.pmin(above, f32x4.pmax(below, own))
}

/** Whether the last three of a vector lie among the four samples next to a place, as most do: they are within all others then, too. */
function liesAmong(
  own: v128,
  source: usize,
  width: i32,
  left: i32,
  top: i32,
  lastX: i32,
  lastY: i32,
): boolean {
  const x0 = <usize>min(max(left, 0), lastX) * 12
  const x1 = <usize>min(max(left + 1, 0), lastX) * 12
  const upper = source + <usize>(min(max(top, 0), lastY) * width) * 12 - 4
  const lower = source + <usize>(min(max(top + 1, 0), lastY) * width) * 12 - 4
  const a = v128.load(upper + x0)
  const b = v128.load(upper + x1)
  const c = v128.load(lower + x0)
  const d = v128.load(lower + x1)
  const least = f32x4.pmin(f32x4.pmin(a, b), f32x4.pmin(c, d))
  const most = f32x4.pmax(f32x4.pmax(a, b), f32x4.pmax(c, d))
  const among = v128.and(f32x4.ge(own, least), f32x4.le(own, most))
  return (i32x4.bitmask(among) & 14) === 14
}

/** The sample before a place; on the horizon and behind it one far away, as all is edge there. */
function before(place: f64): i32 {
  return place > -FAR_PX ? <i32>Math.floor(min(place, FAR_PX)) : -(<i32>FAR_PX)
}
