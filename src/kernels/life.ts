// What is another picture from one frame to the next.
import type { Workspace } from './workspace.js'

/** A picture over the window. */
export interface LifeFrame {
  /** log2 luminance. */
  readonly aligned: Readonly<Float32Array>
  /** Stops that bring it to the common light. */
  readonly exposure: number
  /** 1 where nobody passes, else 0. */
  readonly steady: Readonly<Uint8Array>
}

/**
 * Adds to `sums` the squares of the change from one frame to the next and of the first one's detail, stops, where both are
 * steady, and at how many pixels that is; then the squares of the change and of its finest diagonal band (that of `noiseSigma`)
 * where all four pixels of that are. White noise has in the band what it has in all; what moves is larger than a pixel, and has
 * next to nothing.
 *
 * @param places indices
 * @param light  the first frame's means, which detail stands out from
 * @param width  of the pictures
 */
export function addLife(
  workspace: Workspace,
  places: Readonly<Int32Array>,
  from: LifeFrame,
  to: LifeFrame,
  light: Readonly<Float32Array>,
  width: number,
  sums: Float64Array,
): void {
  workspace.run((kernels, room) =>
    kernels.addLife(
      room.read(places),
      places.length,
      room.read(from.aligned),
      room.read(to.aligned),
      room.read(from.steady),
      room.read(to.steady),
      room.read(light),
      from.exposure,
      to.exposure,
      width,
      light.length,
      room.change(sums),
    ),
  )
}
