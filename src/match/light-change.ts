// Is it light that has changed on a surface, tile by tile, or does something stand there? Is the surface itself
// still there? A shadow or a reflection multiplies the light: its ratio to the reference state is smooth and the texture stays.
// Something that walks through replaces the texture. J. C. S. Jacques Jr, C. R. Jung, S. R. Musse, Background Subtraction
// and Shadow Detection in Grayscale Video Sequences (SIBGRAPI 2005): NCC with the background plus a steady ratio; differs:
// the ratio may slope across a tile (soft edges), and what grain alone leaves of it is measured on the plate, not fixed.

import { type Detail, detailOf, type Shown } from './edge-of-light.js'
import { MAX_LIGHT_STOPS } from './light-law.js'
import { canTell, isGone, TextureSum } from './surface.js'
import type { ReferenceTiles, TileChange, TileGrid } from './tiles.js'

/** A tile of this frame: not changed; the light on it has; or something stands there (or right beside it). */
export const STEADY = 0
export const LIT = 1
export const COVERED = 2
export const BESIDE = 3
export const UNSEEN = 4

/** Changes below this many spreads of the unlit frames are grain ... */
const CHANGED_SIGMA = 4
/** ... as are those under 2 %: no eye finds so faint a shadow, and no compositor looks for it. */
const CHANGED_STOPS = 0.03
/** Rougher than grain by this factor, a tile shows another surface. */
const COVERED_RESIDUAL = 2
/** A soft edge bends across a tile: this share of the change beside it may stay in the tile as roughness. */
const EDGE_RESIDUAL = 0.1
/** ... and a hard one's step this share of its height. */
const STEP_RESIDUAL = 0.4
/** Share of a patch's border from which on it is enclosed. */
const MOSTLY = 0.5
/** The light goes on from a tile to the next where it differs by no more than this, stops, or this share of its change. */
const GOES_ON_STOPS = 0.1
const GOES_ON_SHARE = 0.25
/** Least roughness in stops that can be another surface: under it lies the rounding of an 8-bit plate. */
const MIN_RESIDUAL = 0.015

/** Whoever stands there is somewhere lighter or darker than the surface by so much, stops. */
const OCCLUDER_STOPS = 0.06

/** Detail tells whether the surface is seen where grain makes it uncertain by less than one part in so many ... */
const TELLING_GRAIN = 6
/** ... and it is seen where so much of the detail is. */
const SEEN_SHARE = 0.7

/** A smooth occluder is told from light by the texture it hides from so much change on, stops: less is a shadow that coding smooths. */
export const SMOOTH_OCCLUDER_STOPS = 0.15

/** Texture is looked for so many tiles round about, the least that tells: on one that is hardly more than grain all count. */
const MAX_WINDOW = 4
/** Share of a tile's change that another must have to be looked at with it. */
const ALIKE = 0.6

/** Change beyond which a tile counts as changed, stops. */
export function changedFrom(reference: ReferenceTiles, tile: number): number {
  return Math.max(CHANGED_STOPS, CHANGED_SIGMA * reference.spread[tile])
}

/**
 * Tells light from occluders, tile by tile.
 *
 * @param kind receives STEADY, LIT, COVERED, BESIDE (next to a covered tile: its fringe and contact shadow) or UNSEEN
 * @param shown the frame's pixels
 * @param near  the frames just before and after, as far as they are known: they have a say where the texture is faint
 */
export function classifyTiles(
  f: TileChange,
  reference: ReferenceTiles,
  grid: TileGrid,
  kind: Uint8Array,
  shown: Shown,
  near: readonly TileChange[] = [],
): void {
  for (let tile = 0; tile < kind.length; tile++) {
    if (f.pixels[tile] === 0) {
      kind[tile] = UNSEEN
      continue
    }
    if (isRough(f, reference, grid, tile, tile)) kind[tile] = COVERED
    else kind[tile] = isChanged(f, reference, tile) ? LIT : STEADY
  }
  uncoverOwn(f, reference, grid, kind)
  uncoverEdges(f, reference, grid, kind, shown)
  markOtherSurfaces([f, ...near], reference, grid, kind)
  uncoverAsLight(f, reference, grid, kind)
  markBeside(kind, grid)
  keepWhatThingsDoNotEnclose(kind, grid)
}

/** @param at the tile's own measure, or that of the region's part of it */
function isRough(
  f: TileChange,
  reference: ReferenceTiles,
  grid: TileGrid,
  tile: number,
  at: number,
): boolean {
  const change = stopsOf(f, reference, at)
  // Grain in stops grows as light goes: by the root of the light for photon noise, by all of it for a camera's own.
  const darker = 2 ** Math.max(0, -change)
  const limit =
    COVERED_RESIDUAL * Math.max(reference.residual[at], MIN_RESIDUAL) * darker +
    EDGE_RESIDUAL * changeNear(f, reference, grid, tile)
  return f.residual[at] > limit || Math.abs(change) > MAX_LIGHT_STOPS
}

/**
 * A tile across the region's edge is rough and no occluder where the region's own part of it is smooth and goes on as the region does
 * further in: what lies beyond is another surface.
 */
function uncoverOwn(f: TileChange, reference: ReferenceTiles, grid: TileGrid, kind: Uint8Array): void {
  const { own, weight } = grid
  const ownStops = (tile: number) => stopsOf(f, reference, own[tile] >= 0 ? own[tile] : tile)
  const inwards = [...own.keys()]
    .filter((tile) => own[tile] >= 0 && kind[tile] === COVERED)
    .sort((a, b) => weight[b] - weight[a])
  for (const tile of inwards) {
    if (f.pixels[own[tile]] === 0 || isRough(f, reference, grid, tile, own[tile])) continue
    const stops = ownStops(tile)
    const near = Math.max(GOES_ON_STOPS, GOES_ON_SHARE * Math.abs(stops))
    const goesOn = neighbours(tile, grid.columns, kind.length).some(
      (next) =>
        weight[next] > weight[tile] &&
        (kind[next] === LIT || kind[next] === STEADY) &&
        Math.abs(ownStops(next) - stops) <= near,
    )
    if (goesOn) kind[tile] = isChanged(f, reference, own[tile]) ? LIT : STEADY
  }
}

/** A tile is rough and no occluder where the edge of a hard shadow crosses it: the surface is seen round about, on both sides. */
function uncoverEdges(
  f: TileChange,
  reference: ReferenceTiles,
  grid: TileGrid,
  kind: Uint8Array,
  shown: Shown,
): void {
  const known = new Map<number, Detail>()
  const detailAt = (tile: number): Detail => {
    let detail = known.get(tile)
    if (detail === undefined) {
      detail = detailOf(shown, grid, tile)
      known.set(tile, detail)
    }
    return detail
  }
  const isSeen = (tile: number): boolean => {
    const grain = reference.residual[tile] * 2 ** Math.max(0, -stopsOf(f, reference, tile))
    for (let r = 0; r <= MAX_WINDOW; r++) {
      const sum = { expected: 0, shown: 0 }
      // Whoever stands there stands in what has changed round about as well.
      eachAround(tile, r, grid, (next) => {
        if (kind[next] !== COVERED && kind[next] !== LIT) return
        const { expected, shown } = detailAt(next)
        sum.expected += expected
        sum.shown += shown
      })
      if (Math.sqrt(sum.expected) < TELLING_GRAIN * grain) continue
      if (sum.shown < SEEN_SHARE * sum.expected) return false
      if (r > 0) return true
    }
    return false
  }
  const edges: number[] = []
  for (let tile = 0; tile < kind.length; tile++) {
    if (kind[tile] !== COVERED || Math.abs(stopsOf(f, reference, tile)) > MAX_LIGHT_STOPS) continue
    const limit = STEP_RESIDUAL * changeNear(f, reference, grid, tile) + MIN_RESIDUAL
    if (f.residual[tile] <= limit && isSeen(tile)) edges.push(tile)
  }
  for (const tile of edges) kind[tile] = isChanged(f, reference, tile) ? LIT : STEADY
}

/**
 * An occluder as smooth as the surface is told by what it hides: round about, the surface's own texture is gone.
 *
 * @param frames the frame itself first
 */
function markOtherSurfaces(
  frames: readonly TileChange[],
  reference: ReferenceTiles,
  grid: TileGrid,
  kind: Uint8Array,
): void {
  const [f] = frames
  const sum = new TextureSum()
  const isOther = (tile: number): boolean => {
    const change = stopsOf(f, reference, tile)
    for (let r = 1; r <= MAX_WINDOW; r++) {
      sum.clear()
      eachAround(tile, r, grid, (at) => {
        if (kind[at] !== LIT) return
        // What is there moves on: only tiles that have changed as much show the same.
        for (const g of frames) if (stopsOf(g, reference, at) / change > ALIKE) sum.add(g, reference, at)
      })
      const kept = sum.kept()
      if (canTell(kept)) return isGone(kept)
    }
    return false
  }
  const gone = new Set<number>()
  for (let tile = 0; tile < kind.length; tile++) {
    if (kind[tile] === LIT && Math.abs(stopsOf(f, reference, tile)) >= SMOOTH_OCCLUDER_STOPS && isOther(tile))
      gone.add(tile)
  }
  // Where it is nearly as light as the surface it goes on from where it is not.
  for (const tile of gone)
    for (const next of neighbours(tile, grid.columns, kind.length))
      if (kind[next] === LIT && !gone.has(next) && isOther(next)) gone.add(next)
  for (const tile of gone) kind[tile] = COVERED
}

/**
 * Rough tiles that hang together and are all as light as the surface are the surface, of which a codec keeps now more detail and now
 * less, or leaves that stir: of whoever stands there something is lighter or darker.
 */
function uncoverAsLight(f: TileChange, reference: ReferenceTiles, grid: TileGrid, kind: Uint8Array): void {
  const patchOf = new Int32Array(kind.length)
  const queue = new Int32Array(kind.length)
  const withCorners = (tile: number): number[] => {
    const out: number[] = []
    eachAround(tile, 1, grid, (next) => out.push(next))
    return out
  }
  for (let start = 0; start < kind.length; start++) {
    if (kind[start] !== COVERED || patchOf[start] > 0) continue
    const patch = flood(kind, [start], start + 1, patchOf, queue, (k) => k === COVERED, withCorners)
    if (patch.some((tile) => Math.abs(stopsOf(f, reference, tile)) >= OCCLUDER_STOPS)) continue
    for (const tile of patch) kind[tile] = isChanged(f, reference, tile) ? LIT : STEADY
  }
}

/** Tiles next to a covered one: its fringe and contact shadow. */
function markBeside(kind: Uint8Array, grid: TileGrid): void {
  for (let tile = 0; tile < kind.length; tile++) {
    if (kind[tile] !== LIT && kind[tile] !== STEADY) continue
    eachAround(tile, 1, grid, (next) => {
      if (kind[next] === COVERED) kind[tile] = BESIDE
    })
  }
}

/**
 * A patch of changed light that occluders mostly enclose, and that is smaller than they are, is taken for a part of them:
 * the flat back of a coat. A shadow that somebody stands in or beside stays one.
 */
function keepWhatThingsDoNotEnclose(kind: Uint8Array, grid: TileGrid): void {
  const { columns } = grid
  const patch = new Int32Array(kind.length)
  const queue = new Int32Array(kind.length)
  const beside = (tile: number) => neighbours(tile, columns, kind.length)
  for (let start = 0; start < kind.length; start++) {
    if (kind[start] !== LIT || patch[start] > 0) continue
    const lit = flood(kind, [start], start + 1, patch, queue, (k) => k === LIT, beside)
    const border = new Set<number>()
    for (const tile of lit) for (const next of beside(tile)) if (kind[next] !== LIT) border.add(next)
    const edge = [...border].filter((tile) => isOccluder(kind[tile]))
    if (edge.length <= MOSTLY * border.size) continue
    const occluders = flood(kind, edge, start + 1, new Int32Array(kind.length), queue, isOccluder, beside)
    if (lit.length < occluders.length) for (const tile of lit) kind[tile] = BESIDE
  }
}

/** Something stands in the tile, or right beside it. */
export function isOccluder(kind: number): boolean {
  return kind === COVERED || kind === BESIDE
}

/** All tiles of a kind that hang together with the given ones; they get `mark`. */
function flood(
  kind: Readonly<Uint8Array>,
  from: readonly number[],
  mark: number,
  marks: Int32Array,
  queue: Int32Array,
  joins: (kind: number) => boolean,
  beside: (tile: number) => readonly number[],
): Int32Array {
  let n = 0
  for (const tile of from) {
    marks[tile] = mark
    queue[n++] = tile
  }
  for (let i = 0; i < n; i++) {
    for (const next of beside(queue[i])) {
      if (marks[next] === mark || !joins(kind[next])) continue
      marks[next] = mark
      queue[n++] = next
    }
  }
  return queue.slice(0, n)
}

function neighbours(tile: number, columns: number, tiles: number): number[] {
  const column = tile % columns
  const out: number[] = []
  if (column > 0) out.push(tile - 1)
  if (column < columns - 1) out.push(tile + 1)
  if (tile >= columns) out.push(tile - columns)
  if (tile + columns < tiles) out.push(tile + columns)
  return out
}

/** The tiles up to `r` columns and rows from one, and itself. */
function eachAround(tile: number, r: number, { columns, rows }: TileGrid, use: (tile: number) => void): void {
  const column = tile % columns
  const row = (tile - column) / columns
  for (let v = Math.max(0, row - r); v <= Math.min(rows - 1, row + r); v++)
    for (let u = Math.max(0, column - r); u <= Math.min(columns - 1, column + r); u++) use(v * columns + u)
}

/** The largest change in a tile and the eight round it, stops. */
function changeNear(f: TileChange, reference: ReferenceTiles, grid: TileGrid, tile: number): number {
  let most = 0
  eachAround(tile, 1, grid, (i) => {
    if (f.pixels[i] > 0) most = Math.max(most, Math.abs(stopsOf(f, reference, i)))
  })
  return Math.min(most, MAX_LIGHT_STOPS)
}

/** By how much light has changed on a tile, stops. */
function stopsOf(f: TileChange, reference: ReferenceTiles, tile: number): number {
  return f.change[tile] - reference.change[tile]
}

function isChanged(f: TileChange, reference: ReferenceTiles, tile: number): boolean {
  return Math.abs(stopsOf(f, reference, tile)) > changedFrom(reference, tile)
}
