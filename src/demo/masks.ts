// The masks an artist would draw: soft garbage mattes round who is to be hidden, plain shapes for wall and shutter.
import type { Rect } from '../raster/rect.js'
import type { Take } from './camera.js'
import { SHOPPER_WALK } from './market.js'
import { box, join, limb, ramp } from './shapes.js'
import { groundY, PORTER_SCALE, STAGE_HEIGHT, STAGE_WIDTH } from './stage.js'
import { PORTER_WALK, walkX } from './story.js'

/** The mask reaches this far beyond the outline, and its edge is this soft, stage units. */
const ROOM = 7
const FEATHER = 8

/** What an artist would draw round somebody and their shade. */
export interface Outline {
  /** Stage rectangle that it can reach at a time. */
  extent(time: number): { left: number; top: number; right: number; bottom: number }
  /** Distance of a point of the stage to it, negative inside. */
  distance(x: number, y: number, time: number): number
}

/** Round porter, cart and shade. */
export const PORTER_OUTLINE: Outline = {
  extent(time) {
    const at = walkX(PORTER_WALK, time)
    const floor = groundY(PORTER_SCALE)
    return { left: at - 46, top: floor - 132, right: at + 177, bottom: floor + 8 }
  },
  distance(x, y, time) {
    const at = walkX(PORTER_WALK, time)
    const floor = groundY(PORTER_SCALE)
    const figure = join(
      limb(x, y, at + 4, floor - 40, at + 10, floor - 110, 34, 16),
      box(x, y, at + 2, floor - 16, 42, 20, 12),
      14,
    )
    const cart = box(x, y, at + 76, floor - 44, 46, 48, 14)
    const shade = box(x, y, at + 91, floor - 8, 86, 13, 9)
    return join(join(figure, cart, 18), shade, 10)
  },
}

/** Round the shopper and their shade. */
export const SHOPPER_OUTLINE: Outline = {
  extent(time) {
    const at = walkX(SHOPPER_WALK, time)
    const floor = groundY(SHOPPER_WALK.scale)
    return { left: at - 42, top: floor - 118, right: at + 90, bottom: floor + 6 }
  },
  distance(x, y, time) {
    const at = walkX(SHOPPER_WALK, time)
    const floor = groundY(SHOPPER_WALK.scale)
    const figure = join(
      limb(x, y, at + 1, floor - 40, at + 3, floor - 104, 28, 13),
      box(x, y, at, floor - 14, 40, 18, 12),
      12,
    )
    const shade = box(x, y, at + 44, floor - 4, 44, 9, 8)
    return join(figure, shade, 10)
  },
}

/**
 * One mask frame, 8-bit grey: 255 where somebody may be, falling off softly round them.
 *
 * @param times the moments of the story that this mask covers; one for a mask that follows, many for a still
 */
export function drawMask(
  outline: Outline,
  width: number,
  height: number,
  times: readonly { time: number; take: Take }[],
): Uint8Array {
  const out = new Uint8Array(width * height)
  const unitsX = STAGE_WIDTH / width
  const unitsY = STAGE_HEIGHT / height
  // Edges in the plate are as wide as a pixel, which counts where pixels are large.
  const blur = 1.5 * Math.max(unitsX, unitsY)
  const room = ROOM + blur
  const edge = ROOM + FEATHER + blur
  for (const { time, take } of times) {
    const { left, top, right, bottom } = outline.extent(time)
    const x0 = Math.max(0, Math.floor((left - edge) / unitsX + take.dx))
    const x1 = Math.min(width, Math.ceil((right + edge) / unitsX + take.dx) + 1)
    const y0 = Math.max(0, Math.floor((top - edge) / unitsY + take.dy))
    const y1 = Math.min(height, Math.ceil((bottom + edge) / unitsY + take.dy) + 1)
    for (let j = y0; j < y1; j++) {
      for (let i = x0; i < x1; i++) {
        const d = outline.distance((i + 0.5 - take.dx) * unitsX, (j + 0.5 - take.dy) * unitsY, time)
        const v = Math.round(255 * ramp(room + FEATHER, room, d))
        if (v > out[j * width + i]) out[j * width + i] = v
      }
    }
  }
  return out
}

/** The smallest rectangle that holds the masks of those moments, plate pixels. */
export function takesBox(
  outline: Outline,
  width: number,
  height: number,
  times: readonly { time: number; take: Take }[],
): Rect {
  const mask = drawMask(outline, width, height, times)
  let left = width
  let right = 0
  let top = height
  let bottom = 0
  for (let y = 0, at = 0; y < height; y++) {
    for (let x = 0; x < width; x++, at++) {
      if (mask[at] === 0) continue
      if (x < left) left = x
      if (x >= right) right = x + 1
      if (y < top) top = y
      bottom = y + 1
    }
  }
  return { x: left, y: top, w: right - left, h: bottom - top }
}

/** A rectangle as a mask drawn in plate pixels. */
export function boxSvg(width: number, height: number, rect: Rect): string {
  return [
    `<svg xmlns="http://www.w3.org/2000/svg" width="${width}" height="${height}" viewBox="0 0 ${width} ${height}">`,
    `  <rect x="${rect.x}" y="${rect.y}" width="${rect.w}" height="${rect.h}" fill="#fff"/>`,
    '</svg>',
    '',
  ].join('\n')
}
