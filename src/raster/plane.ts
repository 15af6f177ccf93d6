// One channel of a picture over a rectangle of the plate.
import type { Rect } from './rect.js'

/** A plane of samples inside a larger grid: row-major, `width` by `height`, its corner at plate pixel (x, y). */
export interface Plane {
  readonly x: number
  readonly y: number
  readonly width: number
  readonly height: number
  readonly data: Float32Array
}

export function plane(x: number, y: number, width: number, height: number): Plane {
  return { x, y, width, height, data: new Float32Array(width * height) }
}

/** A rectangle of a plane that holds it, as a plane of its own. */
export function cutPlane(source: Plane, { x, y, w, h }: Rect): Plane {
  const out = plane(x, y, w, h)
  for (let v = 0; v < h; v++) {
    const from = (v + y - source.y) * source.width + x - source.x
    out.data.set(source.data.subarray(from, from + w), v * w)
  }
  return out
}
