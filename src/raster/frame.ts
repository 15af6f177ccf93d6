// The picture type that every step hands to the next.
import ndarray, { type NdArray } from 'ndarray'

/**
 * A picture: float32, shape [height, width, channels], row-major and contiguous (stride [w * c, c, 1], offset 0), so
 * that hot loops may step through `.data` directly. Colour pictures are linear light, RGB or RGBA, unless said otherwise.
 */
export interface Frame extends NdArray<Float32Array> {
  /** Height, width, channels. */
  shape: [number, number, number]
}

/** An all-zero picture, or one round existing samples (not copied). */
export function frame(
  height: number,
  width: number,
  channels: number,
  data: Float32Array = new Float32Array(height * width * channels),
): Frame {
  // ndarray keeps the very list of sizes that it is given.
  return ndarray(data, [height, width, channels]) as Frame
}
