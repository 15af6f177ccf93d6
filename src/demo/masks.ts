// The masks an artist would draw: soft garbage mattes that follow the porter, plain shapes for wall and shutter.
import type { Rect } from '../raster/rect.js'
import type { Take } from './camera.js'
import { box, join, limb, ramp } from './shapes.js'
import { groundY, PORTER_SCALE, STAGE_HEIGHT, STAGE_WIDTH } from './stage.js'
import { PORTER_WALK, walkX } from './story.js'

/** The mask reaches this far beyond the porter, and its edge is this soft, stage units. */
const ROOM = 7
const FEATHER = 8

/** Stage rectangle that a porter's mask can reach at a time, its soft edge included. */
export function porterExtent(time: number): { left: number; top: number; right: number; bottom: number } {
  const x = walkX(PORTER_WALK, time)
  const edge = ROOM + FEATHER
  return {
    left: x - 46 - edge,
    top: groundY(PORTER_SCALE) - 132 - edge,
    right: x + 177 + edge,
    bottom: groundY(PORTER_SCALE) + 8 + edge,
  }
}

/** Distance to the outline that an artist would draw round porter, cart and shade at a time. */
function outline(x: number, y: number, time: number): number {
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
}

/**
 * One mask frame, 8-bit grey: 255 where the porter may be, falling off softly round it.
 *
 * @param times the moments of the story that this mask covers; one for a mask that follows, many for a still
 */
export function porterMask(
  width: number,
  height: number,
  times: readonly { time: number; take: Take }[],
): Uint8Array {
  const out = new Uint8Array(width * height)
  const unitsX = STAGE_WIDTH / width
  const unitsY = STAGE_HEIGHT / height
  // Edges in the plate are as wide as a pixel, which counts where pixels are large.
  const room = ROOM + 1.5 * Math.max(unitsX, unitsY)
  for (const { time, take } of times) {
    const { left, top, right, bottom } = porterExtent(time)
    const grow = 1.5 * Math.max(unitsX, unitsY)
    const x0 = Math.max(0, Math.floor((left - grow) / unitsX + take.dx))
    const x1 = Math.min(width, Math.ceil((right + grow) / unitsX + take.dx) + 1)
    const y0 = Math.max(0, Math.floor((top - grow) / unitsY + take.dy))
    const y1 = Math.min(height, Math.ceil((bottom + grow) / unitsY + take.dy) + 1)
    for (let j = y0; j < y1; j++) {
      for (let i = x0; i < x1; i++) {
        const d = outline((i + 0.5 - take.dx) * unitsX, (j + 0.5 - take.dy) * unitsY, time)
        const v = Math.round(255 * ramp(room + FEATHER, room, d))
        if (v > out[j * width + i]) out[j * width + i] = v
      }
    }
  }
  return out
}

/** The smallest rectangle that holds the masks of those moments, plate pixels. */
export function takesBox(
  width: number,
  height: number,
  times: readonly { time: number; take: Take }[],
): Rect {
  const mask = porterMask(width, height, times)
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
