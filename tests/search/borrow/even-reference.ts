// Unlit tiles that all are alike: no change, no spread, no texture.
import type { ReferenceTiles, TileGrid } from '../../../src/match/tiles.js'

export function evenReference(tiles: number): ReferenceTiles {
  const none = new Float32Array(tiles)
  return { change: none, spread: none, residual: none, texture: none, product: none, productSpread: none }
}

/** A row of tiles, each a pixel of the region. */
export function evenGrid(tiles: number): TileGrid {
  return {
    size: 1,
    width: tiles,
    height: 1,
    columns: tiles,
    rows: 1,
    weight: new Float32Array(tiles).fill(1),
    totalWeight: tiles,
    own: new Int32Array(tiles).fill(-1),
    measures: tiles,
    within: new Uint8Array(tiles).fill(1),
  }
}
