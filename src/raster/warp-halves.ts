// A picture in half floats under a transform.
import { CUBIC } from './filters.js'
import { floatsToHalves, HALF_NAN, HALF_VALUES } from './half.js'
import { plane } from './plane.js'
import type { Rect } from './rect.js'
import { resamplePlane } from './resample.js'
import { apply, invert, isWhole, type Transform } from './transform.js'

/** Linear RGB halves over `from` moved onto `to`; NaN where the source has nothing. */
export function warpHalves(
  halves: Readonly<Uint16Array>,
  from: Rect,
  transform: Transform,
  to: Rect,
): Uint16Array {
  const out = new Uint16Array(3 * to.w * to.h)
  const back = invert(transform)
  const reach = isWhole(transform) ? 0 : 2
  const moved = [0, 1, 2].map((c) => {
    const source = plane(from.x, from.y, from.w, from.h)
    for (let i = 0; i < source.data.length; i++) source.data[i] = HALF_VALUES[halves[3 * i + c]]
    const target = plane(to.x, to.y, to.w, to.h)
    resamplePlane(source, transform, target, CUBIC)
    return target.data
  })
  const floats = new Float32Array(out.length)
  for (let i = 0; i < moved[0].length; i++) for (let c = 0; c < 3; c++) floats[3 * i + c] = moved[c][i]
  floatsToHalves(floats, out)
  for (let y = 0, i = 0; y < to.h; y++)
    for (let x = 0; x < to.w; x++, i++) {
      const p = apply(back, to.x + x, to.y + y)
      const [u, v] = [p.x - from.x, p.y - from.y]
      const seen = u >= reach - 1 && v >= reach - 1 && u <= from.w - reach && v <= from.h - reach
      if (!seen) out.fill(HALF_NAN, 3 * i, 3 * i + 3)
    }
  return out
}
