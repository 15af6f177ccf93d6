// What is painted over the region: textured things in motion. Linear light.
import type { Rect } from '../../src/raster/rect.js'
import { randomFrom } from '../random.js'
import type { Picture } from '../resample.js'
import { cloth } from './cloth.js'
import { inRegion, regionPixels } from './region.js'

/** Fills the region in `frame` with one thing whose texture drifts, as somebody who walks along behind the mask would. */
export function paintMover(target: Picture, box: Rect, frame: number, key: string): void {
  paintMoverOn(target, regionPixels(box, target.width), box, frame, key)
}

/** The same on a list of pixels; the texture is counted from `corner`. */
export function paintMoverOn(
  target: Picture,
  pixels: Int32Array,
  corner: { readonly x: number; readonly y: number },
  frame: number,
  key: string,
): void {
  const random = randomFrom(`mover ${key}`)
  const stuff = cloth(`mover ${key}`)
  const vx = (random() < 0.5 ? -1 : 1) * (2 + 4 * random())
  const vy = random() - 0.5
  const rgb = new Float64Array(3)
  for (const i of pixels) {
    const x = (i % target.width) - corner.x
    const y = Math.floor(i / target.width) - corner.y
    stuff.at(Math.round(x - vx * frame), Math.round(y - vy * frame), rgb)
    target.data.set(rgb, 3 * i)
  }
}

/** Walkers follow each other so closely that no frame shows the region empty, yet each place is empty now and then. */
const WALKER_WIDTH = 46
const WALKER_SPACING = 56
const WALKER_SPEED = 7

/**
 * Paints the crowd of `frame` into the region: a queue of different people on their way across it, at least half
 * of the region covered in every frame, and each place empty in about a quarter of them.
 */
export function paintCrowd(target: Picture, box: Rect, frame: number, key: string): void {
  const head = WALKER_SPEED * frame
  const first = Math.floor((head - box.w - WALKER_WIDTH) / WALKER_SPACING)
  const last = Math.ceil((head + WALKER_WIDTH) / WALKER_SPACING)
  const rgb = new Float64Array(3)
  for (let n = first; n <= last; n++) {
    const random = randomFrom(`walker ${key} ${n}`)
    const stuff = cloth(`walker ${key} ${n}`)
    const tall = box.h * (0.55 + 0.25 * random())
    const centreY = box.h * (0.4 + 0.2 * random())
    const bob = 3 * Math.sin(0.9 * frame + 6.28 * random())
    const centreX = head - n * WALKER_SPACING
    for (let y = 0; y < box.h; y++) {
      for (let x = 0; x < box.w; x++) {
        const u = (x - centreX) / (WALKER_WIDTH / 2)
        const v = (y - centreY - bob) / tall
        if (u * u + v * v > 1 || !inRegion(box, x, y)) continue
        stuff.at(Math.round(x - centreX), Math.round(y - bob), rgb)
        target.data.set(rgb, ((box.y + y) * target.width + box.x + x) * 3)
      }
    }
  }
}
