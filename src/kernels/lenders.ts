// How far donors lie from what is likely there, pixel by pixel and summed up by tiles.
import type { Workspace } from './workspace.js'

/** What witnesses show, over the window. */
export interface Witnesses {
  /** What all of them show, weighted, and their weights. */
  readonly sums: Float64Array
  readonly weights: Float64Array
  /** Per pixel the rank of the last one that was asked. */
  readonly lastRank: Int32Array
  /** log2 luminance where nobody says anything. */
  readonly level: Readonly<Float32Array>
}

/** A donor over the window. */
export interface LenderFrame {
  /** log2 luminance. */
  readonly aligned: Readonly<Float32Array>
  /** Stops that bring it to the common light. */
  readonly exposure: number
  /** 1 where it shows something else than the clean plate. */
  readonly dirt: Readonly<Uint8Array>
}

/**
 * What pixels likely show without a witness's own word.
 *
 * @param rank, said the witness's, and its weight
 * @param least  weight that is none
 * @param pixels places in the window
 * @param likely receives as many
 */
export function likelyWithout(
  workspace: Workspace,
  { sums, weights, lastRank, level }: Witnesses,
  { aligned, exposure, dirt }: LenderFrame,
  { rank, said }: { readonly rank: number; readonly said: number },
  least: number,
  pixels: Readonly<Int32Array>,
  likely: Float64Array,
): void {
  workspace.run((kernels, room) =>
    kernels.likelyWithout(
      room.read(sums),
      room.read(weights),
      room.read(lastRank),
      room.read(level),
      room.read(aligned),
      exposure,
      room.read(dirt),
      rank,
      said,
      least,
      room.read(pixels),
      pixels.length,
      room.write(likely),
    ),
  )
}

/** Square distances by tiles: of clean pixels, of all; and how many are dirty. */
export interface TileDistances {
  readonly own: Float32Array
  readonly all: Float32Array
  readonly dirty: Int32Array
}

/**
 * Sums a donor's square distances from what is likely there up by tiles, each added to a single.
 *
 * @param likely what each of the pixels likely shows
 * @param unit   what a square is multiplied by
 * @param pixels places in the window, row by row
 * @param tileOf the tile of each
 * @param into   receives them
 */
export function tileDistances(
  workspace: Workspace,
  { aligned, exposure, dirt }: LenderFrame,
  likely: Readonly<Float64Array>,
  unit: number,
  pixels: Readonly<Int32Array>,
  tileOf: Readonly<Int32Array>,
  { own, all, dirty }: TileDistances,
): void {
  workspace.run((kernels, room) =>
    kernels.tileDistances(
      room.read(aligned),
      exposure,
      room.read(likely),
      unit,
      room.read(dirt),
      room.read(pixels),
      room.read(tileOf),
      pixels.length,
      own.length,
      room.write(own),
      room.write(all),
      room.write(dirty),
    ),
  )
}
