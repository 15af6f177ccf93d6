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
/** Unlit frames agree better than what they are compared with: a shadow's edge bends, and is found on the calmest ones. */
const UNLIKE_UNLIT = 2

/** How much of the reference texture is still shown, 1: all of it, 0: none, and its standard error. */
export interface Kept {
  readonly share: number
  readonly sigma: number
}

/** Gathers how much of the surface's texture is shown, over tiles and frames. */
export class TextureSum {
  #expected = 0
  #shown = 0
  #variance = 0

  clear(): void {
    this.#expected = 0
    this.#shown = 0
    this.#variance = 0
  }

  /** A tile of a frame. */
  add(f: TileChange, reference: ReferenceTiles, tile: number): void {
    const n = f.pixels[tile]
    if (n === 0) return
    this.#expected += n * reference.product[tile]
    this.#shown += n * (reference.texture[tile] + f.cross[tile])
    // In the dark there is more grain to a stop.
    const grainier = Math.max(1, f.residual[tile] / Math.max(reference.residual[tile], 1e-9))
    this.#variance += (n * grainier * reference.productSpread[tile]) ** 2
  }

  /**
   * The share of its texture that the surface shows, of what it shows on unlit frames: unlike a correlation it does not
   * fall as grain grows. Its error is what unlit frames differ by among each other.
   *
   * @returns null where the unlit frames show no texture either
   */
  kept(): Kept | null {
    if (!(this.#expected > 0)) return null
    return {
      share: this.#shown / this.#expected,
      sigma: (UNLIKE_UNLIT * Math.sqrt(this.#variance)) / this.#expected,
    }
  }
}

/** True where it is sure that the texture is not the surface's. */
export function isGone(kept: Kept | null): boolean {
  return kept !== null && kept.share < GONE_SHARE && 1 - kept.share > SURE_SIGMA * kept.sigma
}

/** True where the texture is known well enough to tell whether it is gone. */
export function canTell(kept: Kept | null): boolean {
  return kept !== null && 1 - GONE_SHARE > SURE_SIGMA * kept.sigma
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
