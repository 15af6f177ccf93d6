// Is the surface still there? Light multiplies it, so that its texture stays in the logarithm as it was; what stands before it
// brings a texture of its own, or none.
import type { ReferenceTiles, TileChange } from './tiles.js'

/** Texture of less than this share of grain's variance tells no surface from another. */
const FAINT_TEXTURE = 0.25
/**
 * Of the texture less than this is left: another surface. Coding that smooths what moves left 0.3 to 0.6 under real soft
 * shadows on a road, bodywork -0.2 to 0.2.
 */
const GONE_SHARE = 0.3
/** What is missing must be so many standard errors. */
const SURE_SIGMA = 5
/** Coding makes grain of blocks of pixels, so that a tile holds fewer independent ones than it has: by this in sigma. */
const BLOCKY = 2

/** How much of the reference texture a frame still shows, 1: all of it, 0: none, and its standard error. */
export interface Kept {
  readonly share: number
  readonly sigma: number
}

/**
 * Least-squares share of the reference texture in a frame's, over some tiles together, a plane per tile taken out of both.
 * Unlike a correlation it does not fall as grain grows.
 *
 * @returns null where the tiles have no texture at all
 */
export function surfaceKept(f: TileChange, reference: ReferenceTiles, tiles: Iterable<number>): Kept | null {
  let texture = 0
  let cross = 0
  let square = 0
  for (const tile of tiles) {
    const n = f.pixels[tile]
    texture += n * reference.texture[tile]
    cross += n * f.cross[tile]
    square += n * reference.texture[tile] * f.residual[tile] ** 2
  }
  if (!(texture > 0)) return null
  return { share: 1 + cross / texture, sigma: (BLOCKY * Math.sqrt(square)) / texture }
}

/** True where it is sure that the texture is not the surface's. */
export function isGone(kept: Kept | null): boolean {
  return kept !== null && kept.share < GONE_SHARE && 1 - kept.share > SURE_SIGMA * kept.sigma
}

/**
 * Correlation of a frame's texture with the reference state's over some tiles, the smooth change divided out: a plane per
 * tile is taken out of both.
 *
 * @param counts tiles that count
 * @returns -1 to 1; null where the reference texture is fainter than grain, so that nothing can be told
 */
export function surfaceCorrelation(
  f: TileChange,
  reference: ReferenceTiles,
  counts: (tile: number) => boolean,
): number | null {
  let texture = 0
  let product = 0
  let other = 0
  let grain = 0
  for (let tile = 0; tile < f.change.length; tile++) {
    const n = f.pixels[tile]
    if (n === 0 || !counts(tile)) continue
    const t = reference.texture[tile]
    const r = f.residual[tile] ** 2 * Math.max(0, 1 - 3 / n)
    texture += n * t
    product += n * (t + f.cross[tile])
    other += n * (t + 2 * f.cross[tile] + r)
    grain += n * reference.residual[tile] ** 2
  }
  if (!(texture > FAINT_TEXTURE * grain) || !(other > 0)) return null
  return Math.max(-1, Math.min(1, product / Math.sqrt(texture * other)))
}
