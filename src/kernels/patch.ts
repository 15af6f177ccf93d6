// Pixel by pixel what a patch is made of, and laying it over the plate.
import type { Workspace } from './workspace.js'

/** What a picture has, per pixel. */
export interface Fitted {
  /** Standard deviation of grain at each pixel's light. */
  readonly strength: Readonly<Float32Array>
  /** A factor of that; null: 1 everywhere. */
  readonly where: Readonly<Float32Array> | null
  /** Variance of its detail, and what that is to be. */
  readonly own: Readonly<Float32Array>
  readonly energy: Readonly<Float32Array>
  /** Takes noise where it is above 0, */
  readonly alpha: Readonly<Float32Array>
  /** and of all that it takes this share; null: all. */
  readonly piece: Readonly<Float32Array> | null
}

/** Of noise. */
export interface FittedNoise {
  /** Variance of the detail of noise of strength 1: of what is new on each frame, and of what lasts. */
  readonly change: number
  readonly absent: number
  /** Share of what lasts that is carried from one frame to the next, 0 to 1. */
  readonly carried: number
}

/** Receives factors per pixel: of its own detail, and of noise. */
export interface Takings {
  readonly stays: Float32Array
  readonly fresh: Float32Array
  readonly lasting: Float32Array
}

/** How much of noise each pixel takes, and how much of its own detail makes room for it: see `fitGrain`. */
export function fitNoise(
  workspace: Workspace,
  { strength, where, own, energy, alpha, piece }: Fitted,
  { change, absent, carried }: FittedNoise,
  { stays, fresh, lasting }: Takings,
): void {
  workspace.run((kernels, room) =>
    kernels.fitNoise(
      room.read(strength),
      where === null ? 0 : room.read(where),
      room.read(own),
      room.read(energy),
      room.read(alpha),
      piece === null ? 0 : room.read(piece),
      change,
      absent,
      carried,
      room.write(stays),
      room.write(fresh),
      room.write(lasting),
      stays.length,
    ),
  )
}

/** Sums of both over the pixels whose alpha is 1. @param out 1 per pixel that is left out; null: none is */
export function energySums(
  workspace: Workspace,
  own: Readonly<Float32Array>,
  energy: Readonly<Float32Array>,
  alpha: Readonly<Float32Array>,
  out: Readonly<Uint8Array> | null,
): readonly [own: number, energy: number] {
  return workspace.run((kernels, room) => {
    const { answer } = room
    kernels.energySums(
      room.read(own),
      room.read(energy),
      room.read(alpha),
      out === null ? 0 : room.read(out),
      alpha.length,
      answer.byteOffset,
    )
    return [answer[0], answer[1]]
  })
}

/** Mean of green where alpha is above 0, of what is finite; 0 where nothing is. @param rgb interleaved */
export function greenMean(
  workspace: Workspace,
  rgb: Readonly<Float32Array>,
  alpha: Readonly<Float32Array>,
): number {
  return workspace.run((kernels, room) => kernels.greenMean(room.read(rgb), room.read(alpha), alpha.length))
}

/** Sums of R, G and B over the pixels that count as 1. @param rgb interleaved */
export function channelSums(
  workspace: Workspace,
  rgb: Readonly<Float32Array>,
  counts: Readonly<Float32Array>,
): [number, number, number] {
  return workspace.run((kernels, room) => {
    const { answer } = room
    kernels.channelSums(room.read(rgb), room.read(counts), counts.length, answer.byteOffset)
    return [answer[0]!, answer[1]!, answer[2]!]
  })
}

/** Adds `factor` times a field, each sample by its share; null: all of it. Told in float64. */
export function addScaled(
  workspace: Workspace,
  field: Readonly<Float32Array>,
  share: Readonly<Float32Array> | null,
  factor: number,
  into: Float32Array,
): void {
  workspace.run((kernels, room) =>
    kernels.addScaled(
      room.read(field),
      share === null ? 0 : room.read(share),
      factor,
      room.change(into),
      into.length,
    ),
  )
}

/** Adds `factor` times a picture whose channels are multiplied first, in float32; the sum is told in float64. @param picture interleaved RGB */
export function addGained(
  workspace: Workspace,
  picture: Readonly<Float32Array>,
  [red, green, blue]: readonly [number, number, number],
  factor: number,
  into: Float32Array,
): void {
  workspace.run((kernels, room) =>
    kernels.addGained(room.read(picture), red, green, blue, factor, room.change(into), into.length / 3),
  )
}

/**
 * Lays a patch over a picture, interleaved RGB: where alpha is 0 the picture's own samples stay bit for bit, where it is 1, or a
 * sample under it is not finite, the patch's do, else both are mixed.
 */
export function layOver(
  workspace: Workspace,
  patch: Readonly<Float32Array>,
  alpha: Readonly<Float32Array>,
  under: Readonly<Float32Array>,
  out: Float32Array,
): void {
  workspace.run((kernels, room) =>
    kernels.layOver(room.read(patch), room.read(alpha), room.read(under), room.write(out), alpha.length),
  )
}
