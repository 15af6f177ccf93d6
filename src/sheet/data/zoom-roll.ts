// How a candidate's donors are made larger and turned to lie on the target, as one says it.
import { rectOf } from '../../raster/rect.js'
import { apply, invert, type Transform } from '../../raster/transform.js'
import type { Candidate, Result } from '../../search/result.js'
import { offsetSpan } from './words.js'

/** Less than this, per cent and degrees, is not said. */
const SAID = 0.05

export interface ZoomAndRoll {
  /** "+4.0 %", or a span over the range: what makes the donor larger is positive. */
  readonly zoom: string
  /** "−1.2°": clockwise is positive. */
  readonly roll: string
}

/** Null where all its donors are only moved. */
export function zoomAndRoll({ frames }: Candidate, { region }: Result): ZoomAndRoll | null {
  const { x, y, w, h } = rectOf(region.box)
  const found = frames.map(({ transform }) =>
    transform === undefined ? STILL : at(transform, x + (w - 1) / 2, y + (h - 1) / 2),
  )
  if (found.every(({ zoom, roll }) => Math.abs(zoom) < SAID && Math.abs(roll) < SAID)) return null
  const span = (values: number[], unit: string) => `${offsetSpan(values, 1)}${unit}`
  return {
    zoom: span(
      found.map(({ zoom }) => zoom),
      ' %',
    ),
    roll: span(
      found.map(({ roll }) => roll),
      '°',
    ),
  }
}

const STILL = { zoom: 0, roll: 0 }

/** From the derivatives at the pixel that comes to lie at (x, y): per cent, and degrees. */
function at(transform: Transform, x: number, y: number): { zoom: number; roll: number } {
  const [xx, xy, , yx, yy, , wx, wy, w1] = transform
  const from = apply(invert(transform), x, y)
  const w = wx * from.x + wy * from.y + w1
  const [a, b, c, d] = [xx - x * wx, xy - x * wy, yx - y * wx, yy - y * wy].map((v) => v / w)
  return {
    zoom: 100 * (Math.sqrt(Math.abs(a * d - b * c)) - 1),
    roll: (180 / Math.PI) * Math.atan2(c - b, a + d),
  }
}
