// Whoever walks past while the shadow is there must not be lifted with it: where the donor shows an occluder and not the
// surface it has no say, and the light there is what it is round about.

import { logs } from '../../kernels/ratio.js'
import type { Workspace } from '../../kernels/workspace.js'
import { COVERED, changedFrom, classifyTiles, isOccluder, STEADY, UNSEEN } from '../../match/light-change.js'
import { isAgainstLight, type Sign } from '../../match/light-law.js'
import { INVALID, LOG_FLOOR, VALID } from '../../match/log-luminance.js'
import {
  measureTiles,
  type ReferenceTiles,
  referenceTiles,
  type TileChange,
  type TileGrid,
  tileChange,
  tileGrid,
} from '../../match/tiles.js'
import { HELD, Laplace } from '../laplace.js'
import { type Channels, luminanceOf } from './bands.js'
import { channelsOf, type Lit, type ReferenceState, referenceAt } from './reference-state.js'

/** A coat may be as smooth as a shadow: beyond this many times the depth of the moment's peak it is no light. */
export const DEEPER = 1.5
/** An occluder that shows is rougher than this, stops; what is hardly rougher than grain may be an edge of the light. */
const PLAIN_ROUGH = 0.15
/** Beside somebody a pixel belongs to them when it is so far from most of its tile: stops, and sigma of grain. */
const BESIDE_STOPS = 0.2
const BESIDE_SIGMA = 4

/** Tells occluders from light on one target frame's grid. */
export class Occluders {
  readonly #grid: TileGrid
  readonly #tiles: ReferenceTiles
  readonly #change: TileChange
  readonly #kind: Uint8Array

  /**
   * @param frames the unlit frames, in the light of the peak
   * @param moment its peak's frame number, depth in stops, and which way it goes
   * @param inside the region's weights over a window of `width` pixels
   */
  constructor(
    readonly workspace: Workspace,
    frames: readonly Lit[],
    reference: ReferenceState,
    readonly moment: { readonly peak: number; readonly depthStops: number; readonly sign: Sign },
    inside: Readonly<Float32Array>,
    width: number,
  ) {
    this.#grid = tileGrid(inside, width)
    const tiles = this.#grid.columns * this.#grid.rows
    const level = logLuminance(workspace, referenceAt(reference, moment.peak, [1, 1, 1]))
    const changes = frames.map((f) => {
      const out = tileChange(this.#grid.measures)
      measureTiles(logLuminance(workspace, channelsOf(f)), 0, trustOf(f.validity), level, this.#grid, out)
      return out
    })
    this.#tiles = referenceTiles(changes, level, this.#grid)
    this.#change = tileChange(this.#grid.measures)
    this.#kind = new Uint8Array(tiles)
  }

  /**
   * @param base the reference state in the donor's light
   * @returns the donor's validity, 0 where somebody stands
   */
  validity(donor: Channels, valid: Readonly<Float32Array>, base: Channels): Float32Array {
    const grid = this.#grid
    const kind = this.#kind
    const level = logLuminance(this.workspace, base)
    const shown = logLuminance(this.workspace, donor)
    const validity = trustOf(valid)
    measureTiles(shown, 0, validity, level, grid, this.#change)
    classifyTiles(this.#change, this.#tiles, grid, kind, { aligned: shown, level, validity })
    const out = valid.slice()
    for (let tile = 0; tile < kind.length; tile++) {
      // Of a tile that is mostly clipped or beyond the plate the rest may be anything.
      const isNoLight =
        kind[tile] === UNSEEN ||
        this.#isDeep(tile) ||
        (kind[tile] !== STEADY && this.#isAgainst(tile, donor, base, valid))
      if (isNoLight || (kind[tile] === COVERED && this.#change.residual[tile] > PLAIN_ROUGH)) {
        eachPixel(grid, tile, (i) => {
          out[i] = 0
        })
      } else if (isOccluder(kind[tile])) this.#keepTheSurface(tile, shown, level, out)
    }
    return out
  }

  #isDeep(tile: number): boolean {
    const change = this.#change.change[tile] - this.#tiles.change[tile]
    return Math.abs(change) > Math.max(DEEPER * this.moment.depthStops, changedFrom(this.#tiles, tile))
  }

  #isAgainst(tile: number, donor: Channels, base: Channels, validity: Readonly<Float32Array>): boolean {
    const now = new Float64Array(3)
    const before = new Float64Array(3)
    eachPixel(this.#grid, tile, (i) => {
      for (let c = 0; c < 3; c++) {
        now[c] += validity[i] * donor[c][i]
        before[c] += validity[i] * base[c][i]
      }
    })
    return isAgainstLight(now, before, 0, this.moment.sign)
  }

  /** In a tile at somebody's side, the pixels that are not as most of them are lose their validity. */
  #keepTheSurface(
    tile: number,
    shown: Readonly<Float32Array>,
    level: Readonly<Float32Array>,
    validity: Float32Array,
  ): void {
    const changes: number[] = []
    eachPixel(this.#grid, tile, (i) => {
      if (validity[i] > 0) changes.push(shown[i] - level[i])
    })
    const middle = changes.sort((a, b) => a - b)[changes.length >> 1]
    const most = Math.max(BESIDE_STOPS, BESIDE_SIGMA * this.#tiles.residual[tile] * 2 ** Math.max(0, -middle))
    eachPixel(this.#grid, tile, (i) => {
      if (Math.abs(shown[i] - level[i] - middle) > most) validity[i] = 0
    })
  }
}

function eachPixel(grid: TileGrid, tile: number, use: (i: number) => void): void {
  const x0 = (tile % grid.columns) * grid.size
  const y0 = Math.floor(tile / grid.columns) * grid.size
  for (let y = y0; y < Math.min(grid.height, y0 + grid.size); y++)
    for (let x = x0; x < Math.min(grid.width, x0 + grid.size); x++) use(y * grid.width + x)
}

/**
 * Spans every hole in the validity with the smoothest surface that its edge holds. In place; where nothing is valid it is 0.
 */
export function fillHoles(
  planes: readonly Float32Array[],
  validity: Readonly<Float32Array>,
  width: number,
): void {
  if (!validity.includes(0)) return
  const laplace = new Laplace(
    validity.map((v) => (v === 0 ? 0 : HELD)),
    width,
  )
  for (const plane of planes) laplace.solve(plane)
}

function trustOf(validity: Readonly<Float32Array>): Uint8Array {
  return Uint8Array.from(validity, (t) => (t > 0 ? VALID : INVALID))
}

function logLuminance(workspace: Workspace, channels: Channels): Float32Array {
  const out = luminanceOf(channels)
  for (let i = 0; i < out.length; i++) out[i] = Math.max(0, out[i]) + LOG_FLOOR
  logs(workspace, out)
  return out
}
