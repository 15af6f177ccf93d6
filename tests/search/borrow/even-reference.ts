// Unlit tiles that all are alike: no change, no spread, no texture.
import type { ReferenceTiles } from '../../../src/match/tiles.js'

export function evenReference(tiles: number): ReferenceTiles {
  const none = new Float32Array(tiles)
  return { change: none, spread: none, residual: none, texture: none, product: none, productSpread: none }
}
