// Channels of interleaved RGB, and means of such pictures.
import type { Workspace } from './workspace.js'

/** Writes one channel, 0 to 2, of interleaved RGB by itself. */
export function takeChannel(
  workspace: Workspace,
  rgb: Readonly<Float32Array>,
  channel: number,
  out: Float32Array,
): void {
  workspace.run((kernels, room) => kernels.takeChannel(room.read(rgb), channel, room.write(out), out.length))
}

/** ... and puts it back to its place. */
export function putChannel(
  workspace: Workspace,
  plane: Readonly<Float32Array>,
  channel: number,
  rgb: Float32Array,
): void {
  workspace.run((kernels, room) =>
    kernels.putChannel(room.read(plane), channel, room.change(rgb), plane.length),
  )
}

/**
 * log2 of a pixel's mean and `floor`, to 5e-7; a mean below 0, or that is not finite, counts as 0.
 *
 * @param rgb   interleaved RGB
 * @param floor above 0
 */
export function meanLogs(
  workspace: Workspace,
  rgb: Readonly<Float32Array>,
  floor: number,
  out: Float32Array,
): void {
  workspace.run((kernels, room) => kernels.meanLogs(room.read(rgb), room.write(out), out.length, floor))
}

/** Marks pixels that have a sample that is not finite with 1, the others with 0. @returns how many there are */
export function markHoles(workspace: Workspace, rgb: Readonly<Float32Array>, out: Uint8Array): number {
  return workspace.run((kernels, room) => kernels.markHoles(room.read(rgb), room.write(out), out.length))
}

/** What lends to a mean of pictures. */
export interface Lending {
  /** Linear RGB, as it was shot, and under its light as it is to be. */
  readonly picture: Readonly<Float32Array>
  readonly lit: Readonly<Float32Array>
  /** 1 per pixel that lends, else 0. */
  readonly there: Readonly<Uint8Array>
  /** Per pixel a factor of the weight; null: 1 everywhere. */
  readonly share: Readonly<Float32Array> | null
  readonly weight: number
  /** Factors of R, G and B. */
  readonly gain: readonly [number, number, number]
}

/** Sums over donors. */
export interface Mean {
  /** Null: nobody asks for it. */
  readonly raw: Float32Array | null
  readonly matched: Float32Array
  /** Of the weights, per pixel. */
  readonly weight: Float32Array
}

/** Adds `weight * share * picture` to `raw`, and with its light and gain to `matched`, where a pixel lends. */
export function addLent(
  workspace: Workspace,
  { picture, lit, there, share, weight, gain: [red, green, blue] }: Lending,
  { raw, matched, weight: total }: Mean,
): void {
  workspace.run((kernels, room) => {
    const from = room.read(picture)
    kernels.addLent(
      from,
      lit === picture ? from : room.read(lit),
      room.read(there),
      share === null ? 0 : room.read(share),
      weight,
      red,
      green,
      blue,
      raw === null ? 0 : room.change(raw),
      room.change(matched),
      room.change(total),
      total.length,
    )
  })
}

/** The same of a donor that lends every pixel, whose weight counts everywhere. @param isFirst what was there is written over, as if it had been 0 */
export function addWhole(
  workspace: Workspace,
  { picture, lit, weight, gain: [red, green, blue] }: Omit<Lending, 'there' | 'share'>,
  { raw, matched }: Omit<Mean, 'weight'>,
  isFirst: boolean,
): void {
  workspace.run((kernels, room) => {
    const from = room.read(picture)
    kernels.addWhole(
      from,
      lit === picture ? from : room.read(lit),
      weight,
      red,
      green,
      blue,
      raw === null ? 0 : room.change(raw),
      room.change(matched),
      isFirst,
      matched.length / 3,
    )
  })
}

/** Samples of interleaved RGB times a factor of their channel, as addLent has one donor alone. */
export function gained(
  workspace: Workspace,
  picture: Readonly<Float32Array>,
  [red, green, blue]: readonly [number, number, number],
  out: Float32Array,
): void {
  workspace.run((kernels, room) =>
    kernels.gained(room.read(picture), red, green, blue, room.write(out), out.length / 3),
  )
}

/**
 * Sums become means: where some donors of a stack have a hole, the others' shares make up for it.
 *
 * @param there receives 1 per pixel where any lends, else 0
 * @returns how many lend
 */
export function evened(workspace: Workspace, { raw, matched, weight }: Mean, there: Uint8Array): number {
  return workspace.run((kernels, room) =>
    kernels.evened(
      raw === null ? 0 : room.change(raw),
      room.change(matched),
      room.read(weight),
      room.write(there),
      there.length,
    ),
  )
}

/** Factors of a surface, R, G and B side by side. */
export interface Field {
  /** Per column. */
  readonly across: Readonly<Float64Array>
  /** Per row: the factor of its first column, and what it is multiplied by from each to the next. */
  readonly starts: Readonly<Float64Array>
  readonly steps: Readonly<Float64Array>
}

/** Multiplies interleaved RGB by a surface, told in float64. @param data may be `out` */
export function multiplyField(
  workspace: Workspace,
  data: Readonly<Float32Array>,
  { across, starts, steps }: Field,
  out: Float32Array,
): void {
  workspace.run((kernels, room) =>
    kernels.multiplyField(
      room.read(data),
      room.read(across),
      room.read(starts),
      room.read(steps),
      across.length / 3,
      starts.length / 3,
      room.write(out),
    ),
  )
}

/** What is not finite becomes 0. */
export function zeroHoles(workspace: Workspace, data: Float32Array): void {
  workspace.run((kernels, room) => kernels.zeroHoles(room.change(data), data.length))
}
