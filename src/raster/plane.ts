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
export function cutPlane({ x, y, width, height, data }: Plane, part: Rect): Plane {
  const cut = cutSamples(data, { x, y, w: width, h: height }, part)
  return { x: part.x, y: part.y, width: part.w, height: part.h, data: cut }
}

/**
 * A part of a picture as a picture of its own.
 *
 * @param data     row-major over `from`, channels interleaved
 * @param part     within `from`
 * @param out      receives it
 */
export function cutSamples(
  data: Readonly<Float32Array>,
  from: Rect,
  part: Rect,
  channels?: number,
  out?: Float32Array,
): Float32Array
export function cutSamples(
  data: Readonly<Uint8Array>,
  from: Rect,
  part: Rect,
  channels?: number,
  out?: Uint8Array,
): Uint8Array
export function cutSamples(
  data: Readonly<Float32Array> | Readonly<Uint8Array>,
  from: Rect,
  part: Rect,
  channels = 1,
  into?: Float32Array | Uint8Array,
): Float32Array | Uint8Array {
  const row = part.w * channels
  const size = row * part.h
  const out = into ?? (data instanceof Float32Array ? new Float32Array(size) : new Uint8Array(size))
  for (let y = 0; y < part.h; y++) {
    const start = ((part.y - from.y + y) * from.w + part.x - from.x) * channels
    out.set(data.subarray(start, start + row), y * row)
  }
  return out
}
