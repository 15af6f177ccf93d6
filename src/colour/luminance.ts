// Luminance of linear-light RGB, and the logarithm of it that matching works on.
import { type Frame, frame } from '../raster/frame.js'

/** Red, green and blue shares of luminance. ITU-R BT.709-6, section 3, item 3.2. */
export const LUMINANCE_WEIGHTS = [0.2126, 0.7152, 0.0722] as const

/**
 * Luminance of a linear-light picture.
 *
 * @param picture [height, width, channels >= 3], RGB first
 * @returns [height, width, 1], Y = 0.2126 R + 0.7152 G + 0.0722 B; NaN and infinity pass through
 */
export function luminance(picture: Frame): Frame {
  const [height, width, channels] = picture.shape
  const rgb = picture.data
  const y = new Float32Array(height * width)
  const [red, green, blue] = LUMINANCE_WEIGHTS
  for (let i = 0, p = 0; i < y.length; i++, p += channels) {
    y[i] = red * rgb[p]! + green * rgb[p + 1]! + blue * rgb[p + 2]!
  }
  return frame(height, width, 1, y)
}
