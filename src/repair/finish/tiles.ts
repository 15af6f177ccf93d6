// The spectrum of what changes between two frames, on a few tiles of one side.

import type { Workspace } from '../../kernels/workspace.js'
import { GREEN } from '../grain/detail-spectrum.js'
import { Differences } from '../grain/differences.js'
import type { Placed } from '../grain/laid-frames.js'
import { type Spectrum, TILE_PX } from '../grain/model.js'
import type { SideLaw } from './change.js'

/** So many tiles of each pair: over the pairs of a patch all have their turn, and a frame costs little. */
const TILES = 4
/** Channels by themselves. */
const APART = Float64Array.of(1, 0, 0, 0, 1, 0, 0, 0, 1)

/**
 * Corners of some of the tiles that lie in one side all over, of those that overlap by half.
 *
 * @param turn a pair's number: the next one looks at the next tiles
 */
export function tilesOf(sides: Readonly<Uint8Array>, width: number, side: number, turn: number): Int32Array {
  const height = sides.length / width
  const step = TILE_PX / 2
  const likely: number[] = []
  for (let top = 0; top + TILE_PX <= height; top += step)
    for (let left = 0; left + TILE_PX <= width; left += step) {
      const at = top * width + left
      if (hasEnds(sides, at, width, side)) likely.push(at)
    }
  const every = Math.max(1, Math.floor(likely.length / TILES))
  const mine = likely.filter((at, i) => i % every === turn % every && isAll(sides, at, width, side))
  return Int32Array.from(mine)
}

/** Do a tile's corners and its middle lie in a side? */
function hasEnds(sides: Readonly<Uint8Array>, at: number, width: number, side: number): boolean {
  const far = TILE_PX - 1
  return (
    sides[at] === side &&
    sides[at + far] === side &&
    sides[at + far * width] === side &&
    sides[at + far * (width + 1)] === side &&
    sides[at + (TILE_PX / 2) * (width + 1)] === side
  )
}

function isAll(sides: Readonly<Uint8Array>, corner: number, width: number, side: number): boolean {
  for (let y = 0; y < TILE_PX; y++)
    for (let x = 0; x < TILE_PX; x++) if (sides[corner + y * width + x] !== side) return false
  return true
}

/**
 * Mean power of green's change over tiles, in units of the grain's variance.
 *
 * @param corners of at least one; the law's renewed share is above 0
 */
export function changeSpectrum(
  workspace: Workspace,
  pair: readonly [Placed, Placed],
  corners: Int32Array,
  width: number,
  { law, renewed }: SideLaw,
): Spectrum {
  // A surface that stands still has no spectrum of its own: it is nothing at each frequency.
  const { spectra } = new Differences(workspace, [pair], { corners, width }).spectraUnder(law, APART)
  return spectra[GREEN]!.map((v) => v / renewed[GREEN])
}
