// Is the surface still there? Light multiplies it, so that its texture stays in the logarithm as it was; what stands before it
// brings a texture of its own, or none.
import type { CellChange, QuietCells } from './tiles.js'

/** Texture of less than this share of grain's variance tells no surface from another. */
const FAINT_TEXTURE = 0.25
/**
 * Of the texture less than this is left: another surface. Coding that smooths what moves left 0.3 to 0.6 under real soft
 * shadows on a road, bodywork -0.2 to 0.2.
 */
const GONE_SHARE = 0.3
/** What is missing must be so many standard errors. */
const SURE_SIGMA = 5
/** Coding makes grain of blocks of pixels, so that a cell holds fewer independent ones than it has: by this in sigma. */
const BLOCKY = 2

/** How much of a quiet texture a frame still shows, 1: all of it, 0: none, and its standard error. */
export interface Kept {
  readonly share: number
  readonly sigma: number
}

/**
 * Least-squares share of the quiet texture in a frame's, over some cells together, a plane per cell taken out of both.
 * Unlike a correlation it does not fall as grain grows.
 *
 * @returns null where the cells have no texture at all
 */
export function surfaceKept(f: CellChange, quiet: QuietCells, cells: Iterable<number>): Kept | null {
  let texture = 0
  let cross = 0
  let square = 0
  for (const cell of cells) {
    const n = f.pixels[cell]
    texture += n * quiet.texture[cell]
    cross += n * f.cross[cell]
    square += n * quiet.texture[cell] * f.rough[cell] ** 2
  }
  if (!(texture > 0)) return null
  return { share: 1 + cross / texture, sigma: (BLOCKY * Math.sqrt(square)) / texture }
}

/** True where it is sure that the texture is not the surface's. */
export function isGone(kept: Kept | null): boolean {
  return kept !== null && kept.share < GONE_SHARE && 1 - kept.share > SURE_SIGMA * kept.sigma
}

/**
 * Correlation of a frame's texture with the quiet state's over some cells, the smooth change divided out: a plane per
 * cell is taken out of both.
 *
 * @param counts cells that count
 * @returns -1 to 1; null where the quiet texture is fainter than grain, so that nothing can be told
 */
export function surfaceCorrelation(
  f: CellChange,
  quiet: QuietCells,
  counts: (cell: number) => boolean,
): number | null {
  let texture = 0
  let product = 0
  let other = 0
  let grain = 0
  for (let cell = 0; cell < f.change.length; cell++) {
    const n = f.pixels[cell]
    if (n === 0 || !counts(cell)) continue
    const t = quiet.texture[cell]
    const r = f.rough[cell] ** 2 * Math.max(0, 1 - 3 / n)
    texture += n * t
    product += n * (t + f.cross[cell])
    other += n * (t + 2 * f.cross[cell] + r)
    grain += n * quiet.rough[cell] ** 2
  }
  if (!(texture > FAINT_TEXTURE * grain) || !(other > 0)) return null
  return Math.max(-1, Math.min(1, product / Math.sqrt(texture * other)))
}
