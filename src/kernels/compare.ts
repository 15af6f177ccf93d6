// What differs of two pictures, pixel by pixel.
import type { Rect } from '../raster/rect.js'
import type { Workspace } from './workspace.js'

/** A frame over the window, and the picture that it is compared with. */
export interface Compared {
  /** log2 luminance. */
  readonly aligned: Readonly<Float32Array>
  /** INVALID, VALID or CLIPPED. */
  readonly validity: Readonly<Uint8Array>
  /** Stops that bring it to the picture's light. */
  readonly exposure: number
  readonly level: Readonly<Float32Array>
  /** What grain explains, stops. */
  readonly spread: Readonly<Float32Array>
}

/** Marks with 1 what is VALID and within `sigmas` spreads plus `stops` of the level, the rest with 0. */
export function markWithin(
  workspace: Workspace,
  { aligned, validity, exposure, level, spread }: Compared,
  sigmas: number,
  stops: number,
  out: Uint8Array,
): void {
  workspace.run((kernels, room) =>
    kernels.markWithin(
      room.read(aligned),
      room.read(validity),
      exposure,
      room.read(level),
      room.read(spread),
      sigmas,
      stops,
      out.length,
      room.write(out),
    ),
  )
}

/**
 * Marks with 1 where the mean difference over a pixel's 3 x 3 neighbours that are no holes is beyond both `sigmas` spreads
 * and `stops`, and holes; the rest with 0.
 *
 * @param part the window's pixels that are looked at, in window coordinates; beyond it `out` stays as it was
 */
export function markOutliers(
  workspace: Workspace,
  { aligned, validity, exposure, level, spread }: Compared,
  sigmas: number,
  stops: number,
  width: number,
  part: Rect,
  out: Uint8Array,
): void {
  workspace.run((kernels, room) =>
    kernels.markOutliers(
      room.read(aligned),
      room.read(validity),
      exposure,
      room.read(level),
      room.read(spread),
      sigmas,
      stops,
      width,
      aligned.length / width,
      part.x,
      part.y,
      part.x + part.w,
      part.y + part.h,
      room.space(4 * (width + 2)),
      room.space(4 * (width + 2)),
      room.change(out),
    ),
  )
}
