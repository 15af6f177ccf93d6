// A sheet's pixels: pictures are laid on grey, and ink over them.
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
 * Ink over all of a canvas. T. Porter, T. Duff, Compositing Digital Images (1984), `over`, on an opaque ground.
 *
 * @param ink 8-bit RGBA, row-major, as large as the canvas; colours are not premultiplied
 */
export function layInk({ samples }: Canvas, ink: Uint8Array): void {
  const alpha = new Uint8Array(ink.buffer, ink.byteOffset + 3, ink.length - 3)
  for (let at = 0, to = 0; at < alpha.length; at += 4, to += 3)
    if (alpha[at] > 0) layOne(samples, ink, at, to)
}

const { fround } = Math

/** In float32, and cut to a code as libvips does it, so that a sheet is the same whoever lays its ink. */
function layOne(samples: Uint8Array, ink: Uint8Array, from: number, to: number): void {
  const alpha = fround(ink[from + 3] / 255)
  const through = fround(1 - alpha)
  for (let c = 0; c < 3; c++) {
    const over = fround(fround(ink[from + c] / 255) * alpha)
    const under = fround(through * fround(samples[to + c] / 255))
    samples[to + c] = Math.floor(fround(fround(over + under) * 255))
  }
}
