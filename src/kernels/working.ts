// The working picture of linear halves.
import type { Workspace } from './workspace.js'

/** How light becomes the working picture. */
export interface Working {
  /** Weights of R, G and B in luminance. */
  readonly weights: readonly [r: number, g: number, b: number]
  /** Added to luminance. */
  readonly floor: number
  /** The least half that counts as clipped. */
  readonly clipHalf: number
  /** log2 luminance that stands for holes before the first good pixel. */
  readonly first: number
}

/**
 * @param halves   RGB, interleaved
 * @param log      receives log2(luminance + floor), in a hole the last value before it
 * @param validity receives INVALID, VALID or CLIPPED per pixel
 */
export function working(
  workspace: Workspace,
  halves: Readonly<Uint16Array>,
  { weights: [r, g, b], floor, clipHalf, first }: Working,
  log: Float32Array,
  validity: Uint8Array,
): void {
  workspace.run((kernels, room) =>
    kernels.working(
      room.read(halves),
      room.write(log),
      room.write(validity),
      log.length,
      r,
      g,
      b,
      floor,
      clipHalf,
      first,
    ),
  )
}
