// Linear light to what a screen shows: sRGB, by a table of the whole unit range.
import { encode } from '../../colour/transfer.js'
import type { Frame } from '../../raster/frame.js'

/** Steps of the lookup: fine enough that the steep dark end moves by 0.05 of an 8-bit code per step. */
const STEPS = 65535

let table: Uint8Array | undefined

/**
 * 8-bit sRGB samples of a linear-light picture, same layout; light outside 0 to 1 after the exposure is held at the end.
 *
 * @param exposureStops how much brighter than the plate it is shown; 0 is as shot
 */
export function toDisplay(picture: Frame, exposureStops = 0): Uint8Array {
  table ??= Uint8Array.from({ length: STEPS + 1 }, (_, i) => Math.round(255 * encode(i / STEPS, 'srgb')))
  const lookup = table
  const light = picture.data
  const out = new Uint8Array(light.length)
  const scale = STEPS * 2 ** exposureStops
  for (let i = 0; i < light.length; i++) {
    const step = light[i] * scale + 0.5
    // Written so that a sample that is no number ends up black rather than anywhere.
    out[i] = step >= STEPS ? 255 : step > 0 ? lookup[step | 0] : 0
  }
  return out
}

/** Where the brightest trusted part of a picture ends: this share of samples lies below it. */
const HIGHLIGHT_SHARE = 0.995
/** A plate whose highlights lie below this is lifted, as a seam in near-black can't be seen in 8 bits. */
const DARK_HIGHLIGHT = 0.1
/** Exposure is chosen in thirds of a stop, as on a lens. */
const STEPS_PER_STOP = 3

/**
 * The exposure at which previews show a picture whole: 0 unless its highlights lie above what a screen can show or
 * so low that nothing can be judged. A choice of ours, no source.
 */
export function previewExposure(picture: Frame): number {
  // Where there is no picture nothing is bright.
  const sorted = picture.data.filter((v) => v - v === 0).sort()
  const highlight = sorted[Math.floor((sorted.length - 1) * HIGHLIGHT_SHARE)]
  if (!(highlight > 0)) return 0
  if (highlight > 1) return Math.floor(-Math.log2(highlight) * STEPS_PER_STOP) / STEPS_PER_STOP
  if (highlight < DARK_HIGHLIGHT) {
    return Math.floor(Math.log2(DARK_HIGHLIGHT / highlight) * STEPS_PER_STOP) / STEPS_PER_STOP
  }
  return 0
}
