// Whoever walks past while the shadow is there must not be lifted with it: where the donor shows a thing and not the
// surface it has no say, and the light there is what it is round about.

import { changing, kernels } from '../../kernels/memory.js'
import { COVERED, changedFrom, classifyCells, isThing, STEADY, UNSEEN } from '../../match/light-change.js'
import { isAgainstLight, type Sign } from '../../match/light-law.js'
import { GOOD, HOLE, LOG_FLOOR } from '../../match/log-luminance.js'
import {
  type CellChange,
  type CellGrid,
  cellChange,
  cellGrid,
  measureCells,
  type QuietCells,
  quietCells,
} from '../../match/tiles.js'
import { type Channels, luminanceOf } from './bands.js'
import { blur } from './estimate.js'
import { channelsOf, type Lit, type Quiet, quietAt } from './unlit.js'

/** Windows from which a hole is filled, radii in pixels: the first that sees enough beside it. */
const FILL_PX = [4, 8, 16, 32, 64] as const
/** A coat may be as smooth as a shadow: beyond this many times the depth of the moment's peak it is no light. */
const DEEPER = 1.5
/** A thing that shows is rougher than this, stops; what is hardly rougher than grain may be an edge of the light. */
const PLAIN_ROUGH = 0.15
/** Beside somebody a pixel belongs to them when it is so far from most of its cell: stops, and sigma of grain. */
const BESIDE_STOPS = 0.2
const BESIDE_SIGMA = 4
/** Share of a window that must be seen. */
const ENOUGH = 0.1
/** Each round carries a hole's edge some pixels further in; the means have brought it near before. */
const RELAX_ROUNDS = 80
const OVER_RELAX = 1.85

/** Tells things from light on one target frame's grid. */
export class Passers {
  readonly #grid: CellGrid
  readonly #cells: QuietCells
  readonly #change: CellChange
  readonly #kind: Uint8Array

  /**
   * @param frames the quiet frames, in the light of the peak
   * @param moment its peak's frame number, depth in stops, and which way it goes
   * @param inside the region's weights over a window of `width` pixels
   */
  constructor(
    frames: readonly Lit[],
    quiet: Quiet,
    readonly moment: { readonly peak: number; readonly depthStops: number; readonly sign: Sign },
    inside: Readonly<Float32Array>,
    width: number,
  ) {
    this.#grid = cellGrid(inside, width)
    const cells = this.#grid.columns * this.#grid.rows
    const level = logLuminance(quietAt(quiet, moment.peak, [1, 1, 1]))
    const changes = frames.map((f) => {
      const out = cellChange(cells)
      measureCells(logLuminance(channelsOf(f)), 0, trustOf(f.trust), level, this.#grid, out)
      return out
    })
    this.#cells = quietCells(changes, level, this.#grid)
    this.#change = cellChange(cells)
    this.#kind = new Uint8Array(cells)
  }

  /**
   * @param base the quiet state in the donor's light
   * @returns the donor's trust, 0 where somebody stands
   */
  trust(donor: Channels, trusted: Readonly<Float32Array>, base: Channels): Float32Array {
    const grid = this.#grid
    const kind = this.#kind
    const level = logLuminance(base)
    const shown = logLuminance(donor)
    measureCells(shown, 0, trustOf(trusted), level, grid, this.#change)
    classifyCells(this.#change, this.#cells, grid, kind)
    const out = trusted.slice()
    for (let cell = 0; cell < kind.length; cell++) {
      // Of a cell that is mostly clipped or beyond the plate the rest may be anything.
      const isNoLight =
        kind[cell] === UNSEEN ||
        this.#isDeep(cell) ||
        (kind[cell] !== STEADY && this.#isAgainst(cell, donor, base, trusted))
      if (isNoLight || (kind[cell] === COVERED && this.#change.rough[cell] > PLAIN_ROUGH)) {
        eachPixel(grid, cell, (i) => {
          out[i] = 0
        })
      } else if (isThing(kind[cell])) this.#keepTheSurface(cell, shown, level, out)
    }
    return out
  }

  #isDeep(cell: number): boolean {
    const change = this.#change.change[cell] - this.#cells.change[cell]
    return Math.abs(change) > Math.max(DEEPER * this.moment.depthStops, changedFrom(this.#cells, cell))
  }

  #isAgainst(cell: number, donor: Channels, base: Channels, trust: Readonly<Float32Array>): boolean {
    const now = new Float64Array(3)
    const before = new Float64Array(3)
    eachPixel(this.#grid, cell, (i) => {
      for (let c = 0; c < 3; c++) {
        now[c] += trust[i] * donor[c][i]
        before[c] += trust[i] * base[c][i]
      }
    })
    return isAgainstLight(now, before, 0, this.moment.sign)
  }

  /** In a cell at somebody's side, the pixels that are not as most of them are lose their trust. */
  #keepTheSurface(
    cell: number,
    shown: Readonly<Float32Array>,
    level: Readonly<Float32Array>,
    trust: Float32Array,
  ): void {
    const changes: number[] = []
    eachPixel(this.#grid, cell, (i) => {
      if (trust[i] > 0) changes.push(shown[i] - level[i])
    })
    const middle = changes.sort((a, b) => a - b)[changes.length >> 1]
    const most = Math.max(BESIDE_STOPS, BESIDE_SIGMA * this.#cells.rough[cell] * 2 ** Math.max(0, -middle))
    eachPixel(this.#grid, cell, (i) => {
      if (Math.abs(shown[i] - level[i] - middle) > most) trust[i] = 0
    })
  }
}

function eachPixel(grid: CellGrid, cell: number, use: (i: number) => void): void {
  const x0 = (cell % grid.columns) * grid.size
  const y0 = Math.floor(cell / grid.columns) * grid.size
  for (let y = y0; y < Math.min(grid.height, y0 + grid.size); y++)
    for (let x = x0; x < Math.min(grid.width, x0 + grid.size); x++) use(y * grid.width + x)
}

/**
 * Spans every hole in the trust with the smoothest surface that its edge holds: each pixel is the mean of its neighbours
 * (Laplace's equation), found by over-relaxation (D. M. Young, Iterative Methods for Solving Partial Difference Equations
 * of Elliptic Type, 1954) from means of wide windows. In place; where nothing is trusted it is 0.
 */
export function fillHoles(
  planes: readonly Float32Array[],
  trust: Readonly<Float32Array>,
  width: number,
): void {
  const holes: number[] = []
  for (let i = 0; i < trust.length; i++) if (trust[i] === 0) holes.push(i)
  if (holes.length === 0) return
  fillWithMeans(planes, trust, width, holes)
  for (const plane of planes) relax(plane, width, holes)
}

function fillWithMeans(
  planes: readonly Float32Array[],
  trust: Readonly<Float32Array>,
  width: number,
  holes: readonly number[],
): void {
  let left = holes
  for (const radius of FILL_PX) {
    const seen = Float32Array.from(trust)
    blur(seen, width, radius)
    for (const plane of planes) {
      const sum = plane.map((v, i) => (trust[i] > 0 ? v * trust[i] : 0))
      blur(sum, width, radius)
      for (const i of left) plane[i] = seen[i] > ENOUGH ? sum[i] / seen[i] : 0
    }
    left = left.filter((i) => seen[i] <= ENOUGH)
    if (left.length === 0) return
  }
}

function relax(plane: Float32Array, width: number, holes: readonly number[]): void {
  const { length } = plane
  for (let round = 0; round < RELAX_ROUNDS; round++) {
    for (const i of holes) {
      const x = i % width
      // At the picture's edge it goes on level.
      const left = plane[x > 0 ? i - 1 : i]
      const right = plane[x < width - 1 ? i + 1 : i]
      const up = plane[i >= width ? i - width : i]
      const down = plane[i + width < length ? i + width : i]
      plane[i] += OVER_RELAX * ((left + right + up + down) / 4 - plane[i])
    }
  }
}

function trustOf(trust: Readonly<Float32Array>): Uint8Array {
  return Uint8Array.from(trust, (t) => (t > 0 ? GOOD : HOLE))
}

function logLuminance(channels: Channels): Float32Array {
  const out = luminanceOf(channels)
  for (let i = 0; i < out.length; i++) out[i] = Math.max(0, out[i]) + LOG_FLOOR
  changing(out, 'ratio', (at) => kernels.logs(at, out.length))
  return out
}
