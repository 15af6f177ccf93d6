// Linear light in half floats, straight from a plate.
import { decode } from '../colour/transfer.js'
import { floatsToHalves, HALF_MAX, HALF_NAN } from '../raster/half.js'
import { intersect, type Rect } from '../raster/rect.js'
import { eachHalfRows, type Plate, voidOutside } from './plate.js'
import { readRects, readRectsThrough, readStoredHalves } from './read-many.js'
import type { HalfRoom, HalfRows } from './reader.js'
import type { Delivery } from './source.js'

/**
 * Reads the same rectangle of many frames as linear RGB in half floats, [rect.h, rect.w, 3]: 11 bits of precision are below
 * the grain of any plate. Codes go through one table. As readRects otherwise.
 *
 * @param room taken for halves as they are stored: see ReadOptions
 */
export async function* readHalves(
  plate: Plate,
  frames: Iterable<number>,
  rect: Rect,
  room?: HalfRoom,
): AsyncGenerator<Delivery<Uint16Array>> {
  const table = tableOf(plate)
  const quick =
    table !== undefined
      ? readRectsThrough(plate, frames, rect, table)
      : plate.encoding === 'linear'
        ? readStoredHalves(plate, frames, rect, boundedHalves, room)
        : null
  if (quick !== null) {
    for await (const delivery of quick) {
      if (delivery.picture) voidOutside(plate.active, rect, delivery.picture, HALF_NAN)
      yield delivery
    }
    return
  }
  for await (const { frame, picture, error } of readRects(plate, frames, rect))
    yield picture ? { frame, picture: boundedHalves(picture.data) } : { frame, error }
}

/**
 * All of a frame as halves, some rows at a time: as they lie in its file where it has such, else as its codes become them.
 *
 * @param use takes in rows as FrameReader has them; NaN where readRect has it
 * @returns whether it came so: floats don't, nor does a movie's frame, which costs a pass, or light that is at hand otherwise
 * @throws as readRect
 */
export async function eachRowAsHalves(plate: Plate, frame: number, use: HalfRows): Promise<boolean> {
  if (await eachHalfRows(plate, frame, use)) return true
  const { kept, streamed, width: w, height: h } = plate
  if (kept !== undefined || streamed || tableOf(plate) === undefined) return false
  for await (const { picture, error } of readHalves(plate, [frame], { x: 0, y: 0, w, h })) {
    if (picture === undefined) throw error
    for (let y = 0; y < h; y += use.rows) use.take(picture.subarray(3 * w * y, 3 * w * (y + use.rows)), y)
  }
  return true
}

/**
 * Writes NaN over what of a frame is not to be seen.
 *
 * @param halves linear RGB over `rect`; written over
 */
export function hideAvoided({ avoided }: Plate, frame: number, rect: Rect, halves: Uint16Array): void {
  const hidden = avoided?.get(frame)
  if (hidden === undefined) return
  const part = intersect(hidden.rect, rect)
  for (let y = part.y; y < part.y + part.h; y++) {
    const from = (y - hidden.rect.y) * hidden.rect.w - hidden.rect.x
    const to = (y - rect.y) * rect.w - rect.x
    for (let x = part.x; x < part.x + part.w; x++)
      if (hidden.bits[from + x] === 1) halves.fill(HALF_NAN, 3 * (to + x), 3 * (to + x) + 3)
  }
}

/** Halves of linear light, bounded in place. */
function boundedHalves(linear: Float32Array): Uint16Array {
  for (let i = 0; i < linear.length; i++) {
    const value = linear[i]
    // Above a half's range stays bright instead of becoming infinite; NaN fails both tests and stays NaN.
    if (value > HALF_MAX && value < Number.POSITIVE_INFINITY) linear[i] = HALF_MAX
    else if (value < -HALF_MAX && value > Number.NEGATIVE_INFINITY) linear[i] = -HALF_MAX
  }
  const halves = new Uint16Array(linear.length)
  floatsToHalves(linear, halves)
  return halves
}

const tables = new Map<string, Uint16Array>()

/** The half of every code that an integer plate can hold; undefined for floats. */
function tableOf(plate: Plate): Uint16Array | undefined {
  const { levels, encoding } = plate
  if (levels === undefined) return undefined
  const key = `${encoding} ${levels}`
  let table = tables.get(key)
  if (table === undefined) {
    table = boundedHalves(
      Float32Array.from({ length: levels + 1 }, (_, code) => decode(code / levels, encoding)),
    )
    tables.set(key, table)
  }
  return table
}
