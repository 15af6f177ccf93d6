// A sheet's pixels: pictures are laid on grey, and ink over them.
import { codecs } from '../../kernels/codecs.js'
import { layInk as layInkOver } from '../../kernels/ink.js'
import type { Rect } from '../../raster/rect.js'
import type { Still } from '../data/gather.js'

/** 8-bit RGB, row-major. */
export interface Canvas {
  readonly w: number
  readonly h: number
  readonly samples: Uint8Array
}

export function greyCanvas(w: number, h: number, grey: number): Canvas {
  return { w, h, samples: new Uint8Array(3 * w * h).fill(grey) }
}

/** A picture lies within the canvas, its corner at (left, top). */
export function layPicture(canvas: Canvas, { w, h, samples }: Still, left: number, top: number): void {
  for (let y = 0; y < h; y++)
    canvas.samples.set(samples.subarray(3 * y * w, 3 * (y + 1) * w), 3 * ((top + y) * canvas.w + left))
}

/**
 * Ink over a part of a canvas. T. Porter, T. Duff, Compositing Digital Images (1984), `over`, on an opaque ground; in float32,
 * and cut to a code as libvips does it, so that a sheet is the same whoever lays its ink.
 *
 * @param ink 8-bit RGBA, [part.h, part.w]; colours are not premultiplied
 */
export function layInk({ w, samples }: Canvas, part: Rect, ink: Uint8Array): void {
  layInkOver(codecs(), samples, w, part, ink)
}
