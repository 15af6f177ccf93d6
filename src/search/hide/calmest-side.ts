// What goes on beside a region on the side where least does, passers and all: where snow falls on every side it falls on the
// region, too, however empty the donors are.

import { INVALID } from '../../match/log-luminance.js'
import { select } from '../../match/selection.js'
import { displaySlope } from '../../match/visible-error.js'
import type { Rect } from '../../raster/rect.js'
import type { PixelLists } from '../pixel-lists.js'
import type { Registered } from '../register.js'

/** A side with a smaller share of the surround's pixels is cut off by the frame's edge, and tells nothing. */
const MIN_SHARE = 1 / 16

/**
 * Mean square difference of a region's surround from the clean plate as the middle one of some frames has it, on the side
 * where that is least; each side's mean light is left aside.
 *
 * @param level the clean plate over the window, log2 luminance
 * @returns display code values squared; 0 where nothing is seen
 */
export function onCalmestSide(
  frames: readonly Pick<Registered, 'aligned' | 'validity'>[],
  { compared, inside }: Pick<PixelLists, 'compared' | 'inside'>,
  level: Readonly<Float32Array>,
  { w }: Pick<Rect, 'w'>,
): number {
  const columns = extentOf(inside, (i) => i % w)
  const rows = extentOf(inside, (i) => Math.floor(i / w))
  const sides: number[][] = [[], [], [], []]
  for (const i of compared) {
    const across = ((i % w) - columns.middle) / columns.half
    const down = (Math.floor(i / w) - rows.middle) / rows.half
    sides[Math.abs(down) > Math.abs(across) ? (down < 0 ? 0 : 1) : across < 0 ? 2 : 3].push(i)
  }
  const each = sides
    .filter((side) => side.length > MIN_SHARE * compared.length)
    .flatMap((side) => {
      const found = Float32Array.from(frames.flatMap((f) => differenceOn(side, f, level) ?? []))
      return found.length > 0 ? [select(found, found.length >> 1)] : []
    })
  return each.length > 0 ? Math.min(...each) : 0
}

function differenceOn(
  pixels: readonly number[],
  { aligned, validity }: Pick<Registered, 'aligned' | 'validity'>,
  level: Readonly<Float32Array>,
): number | null {
  let [n, weight, mean, square] = [0, 0, 0, 0]
  for (const i of pixels) {
    if (validity[i] === INVALID) continue
    const stops = aligned[i] - level[i]
    const worth = displaySlope(level[i]) ** 2
    n++
    weight += worth
    mean += worth * stops
    square += worth * stops * stops
  }
  return weight > 0 ? Math.max(0, square - (mean * mean) / weight) / n : null
}

function extentOf(pixels: Readonly<Int32Array>, of: (pixel: number) => number) {
  let [least, most] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY]
  for (const i of pixels) {
    least = Math.min(least, of(i))
    most = Math.max(most, of(i))
  }
  return { middle: (least + most) / 2, half: (most - least + 1) / 2 }
}
