// What two frames differ by over small square tiles, and the power of such tiles at each frequency, in double precision.
import type { Workspace } from './workspace.js'

/** Side of a tile, pixels; as in assembly/tiles.ts. */
export const TILE_PX = 16
const PIXELS = TILE_PX * TILE_PX
/** Doubles that a tile's transform is made in. */
const ROOM = 5 * PIXELS

/** Where tiles begin in a picture, pixels, and how many it has in a row. */
export interface Tiles {
  readonly corners: Readonly<Int32Array>
  readonly width: number
}

/** Tiles of R, G and B, PIXELS samples each, of which some count. */
export interface Counted {
  readonly samples: Readonly<Float64Array>
  /** A byte per tile: 0 leaves it out. */
  readonly counts: Readonly<Uint8Array>
  /** Three per tile: factors that bring its channels to one strength. */
  readonly scale: Readonly<Float64Array>
}

/**
 * What two frames differ by over tiles, the second brought to the light of the first, each tile's mean taken out, over the
 * root of 2.
 *
 * @param one      interleaved RGB
 * @param into     as many tiles as there are corners
 * @param light    receives per tile R, G and B: mean light of both, not below 0
 * @param variance receives likewise the mean square of the difference
 */
export function tileDifferences(
  workspace: Workspace,
  one: Readonly<Float32Array>,
  two: Readonly<Float32Array>,
  { corners, width }: Tiles,
  into: Float64Array,
  light: Float64Array,
  variance: Float64Array,
): void {
  workspace.run((kernels, room) =>
    kernels.tileDifferences(
      room.read(one),
      room.read(two),
      width,
      room.read(corners),
      corners.length,
      room.write(into),
      room.write(light),
      room.write(variance),
    ),
  )
}

/** Adds up products of channels over the tiles that count. @param sums 3 x 3 */
export function tileProducts(
  workspace: Workspace,
  { samples, counts, scale }: Counted,
  sums: Float64Array,
): void {
  workspace.run((kernels, room) =>
    kernels.tileProducts(
      room.read(samples),
      room.read(counts),
      room.read(scale),
      counts.length,
      room.change(sums),
    ),
  )
}

/**
 * Adds up the power of mixtures of channels at each frequency over the tiles that count, as a discrete Fourier transform has
 * them: squared lengths over the number of samples.
 *
 * @param mix     3 x 3: row j has what component j takes of R, G and B
 * @param window  a factor per sample of a tile
 * @param spectra three, one after the other
 */
export function addTilePower(
  workspace: Workspace,
  { samples, counts, scale }: Counted,
  mix: Readonly<Float64Array>,
  window: Readonly<Float64Array>,
  spectra: Float64Array,
): void {
  workspace.run((kernels, room) =>
    kernels.addTilePower(
      room.read(samples),
      room.read(counts),
      room.read(scale),
      counts.length,
      room.read(mix),
      room.read(window),
      room.read(CIRCLE),
      room.space(8 * ROOM),
      room.change(spectra),
    ),
  )
}

/**
 * Adds up the power of one channel of tiles of a picture at each frequency, as above, each tile's mean taken out.
 *
 * @param rgb      interleaved
 * @param window   a factor per sample of a tile
 * @param spectrum it is added to
 */
export function addChannelPower(
  workspace: Workspace,
  rgb: Readonly<Float32Array>,
  channel: 0 | 1 | 2,
  { corners, width }: Tiles,
  window: Readonly<Float64Array>,
  spectrum: Float64Array,
): void {
  workspace.run((kernels, room) =>
    kernels.addChannelPower(
      room.read(rgb),
      width,
      channel,
      room.read(corners),
      corners.length,
      room.read(window),
      room.read(CIRCLE),
      room.space(8 * ROOM),
      room.change(spectrum),
    ),
  )
}

/** Cosine and sine of every sixteenth of a circle. */
const CIRCLE = Float64Array.from({ length: 2 * TILE_PX }, (_, i) => {
  const angle = (2 * Math.PI * (i >> 1)) / TILE_PX
  return i % 2 === 0 ? Math.cos(angle) : Math.sin(angle)
})
