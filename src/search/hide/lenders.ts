// Who may lend the parts of a mosaic: what each donor would cost tile by tile, and pixel by pixel.

import { boxMean } from '../../kernels/box.js'
import { type LenderFrame, likelyWithout, tileDistances, type Witnesses } from '../../kernels/lenders.js'
import type { Held, Workspace } from '../../kernels/workspace.js'
import { markDirty } from '../../match/clean.js'
import type { Rect } from '../../raster/rect.js'
import { dilate } from '../../region/region.js'
import type { FrameKey } from '../../shot/frame-key.js'
import type { Steps } from '../../turns.js'
import type { Registered, Registration } from '../register.js'
import type { OtherColourOf } from './other-colour.js'

/** What a pixel that shows somebody costs, in units of the grain's variance: more than any seam round it. */
const DIRTY = 400
/** What a pixel next to one costs: edges are soft, and a seam must not run along them. */
const NEAR_DIRTY = 40
const NEAR_PX = 3
/** Tiles in which a donor's own error is taken; a mean over fewer pixels is grain. */
const TILE_PX = 12
/** Clean donors that tell what a pixel likely shows, nearest first, and the frames over which they fade. */
const WITNESSES = 8
const WITNESS_FADE = 16
const MIN_WITNESS = 1e-4
const MAX_RANK = 2 ** 31 - 1

/** A donor as it would lend: sums over the wanted pixels of each tile. */
export interface Lender {
  readonly donor: Registered
  /** Column of the matrix. */
  readonly column: number
  /** Square distance from what is likely there, of clean pixels, in units of the grain's variance. */
  readonly own: Float32Array
  /** The same of all pixels. */
  readonly all: Float32Array
  readonly dirty: Int32Array
  /** What all its pixels cost beside that: the square of its seam. */
  readonly ring: number
}

/** The pixels of the window that a mosaic covers, and what is likely to be seen there. */
export class LenderTable {
  readonly tilesAcross: number
  readonly tiles: number
  /** Wanted pixels per tile. */
  readonly size: Int32Array
  /** What witnesses show, weighted, per pixel of the window, and how far down their list a pixel's last one stands. */
  readonly #witnesses: Witnesses
  readonly #rank = new Map<Registered, { rank: number; weight: number }>()
  readonly #w: number
  /** The wanted pixels, by their index in the window, and the tile of each. */
  readonly #pixels: Int32Array
  readonly #tileOf: Int32Array
  /** What each of them likely shows, told by all witnesses; made when the first donor is held against it. */
  readonly #likely: Float64Array
  #isLikelyKnown = false
  /** The same without one donor's word; the next one's lies where it did. */
  readonly #withoutOne: Float64Array
  /** What is dirty of one donor after the other, over the window. */
  readonly #dirty: Uint8Array
  /** What `dirt` holds a donor against, in the workspace. */
  readonly #level: Readonly<Float32Array>
  readonly #spread: Readonly<Float32Array>

  /**
   * @param held   where what donors are held against lies until none is looked at any more
   * @param wanted 1 over the window where a donor is wanted
   * @param part   all of those pixels, in window coordinates
   * @param spread what grain explains per pixel, see `explainedSpread`
   * @param grain  standard deviation of one frame's grain, stops
   * @param otherColour what is not lent though luminance tells nothing; null: nothing is known
   */
  constructor(
    readonly workspace: Workspace,
    held: Held,
    readonly registration: Registration,
    readonly wanted: Readonly<Uint8Array>,
    readonly part: Rect,
    readonly spread: Readonly<Float32Array>,
    readonly grain: number,
    readonly otherColour: OtherColourOf | null,
  ) {
    this.#w = registration.window.w
    this.#level = held.laid(registration.cleanPlate.level)
    this.#spread = held.laid(spread)
    this.#witnesses = {
      sums: held.doubles(wanted.length).fill(0),
      weights: held.doubles(wanted.length).fill(0),
      lastRank: held.integers(wanted.length).fill(MAX_RANK),
      level: this.#level,
    }
    this.tilesAcross = Math.ceil(part.w / TILE_PX)
    this.tiles = this.tilesAcross * Math.ceil(part.h / TILE_PX)
    this.size = new Int32Array(this.tiles)
    const pixels: number[] = []
    const tiles: number[] = []
    this.#each((i, tile) => {
      if (wanted[i] === 0) return
      this.size[tile]++
      pixels.push(i)
      tiles.push(tile)
    })
    this.#pixels = held.integers(pixels.length)
    this.#pixels.set(pixels)
    this.#tileOf = held.integers(pixels.length)
    this.#tileOf.set(tiles)
    this.#dirty = held.bytes(wanted.length).fill(0)
    this.#likely = held.doubles(pixels.length)
    this.#withoutOne = held.doubles(pixels.length)
  }

  /** Learns what the pixels show about a target frame: clean donors near it, the nearer the more. */
  *settle(target: Registered, donors: readonly Registered[]): Steps<void, never> {
    const gap = (d: Registered) => (d.plate === target.plate ? Math.abs(d.frame - target.frame) : 1e9)
    const seen = new Uint8Array(this.wanted.length)
    let open = this.#pixels.length
    for (const [rank, d] of [...donors].sort((a, b) => gap(a) - gap(b)).entries()) {
      if (open === 0) break
      yield
      const dirty = this.#unlent(d, this.dirt(d, this.#dirty))
      const weight = Math.max(Math.exp(-gap(d) / WITNESS_FADE), MIN_WITNESS)
      this.#rank.set(d, { rank, weight })
      open -= this.#witness(d, dirty, rank, weight, seen)
    }
  }

  /** Adds what a donor shows where it is clean and others are still asked for. @returns at how many pixels it was the last */
  #witness(
    { aligned, exposure }: Registered,
    dirty: Readonly<Uint8Array>,
    rank: number,
    weight: number,
    seen: Uint8Array,
  ): number {
    const pixels = this.#pixels
    const { sums, weights, lastRank } = this.#witnesses
    let closed = 0
    for (let k = 0; k < pixels.length; k++) {
      const i = pixels[k]
      if (dirty[i] === 1 || seen[i] === WITNESSES) continue
      sums[i] += weight * (aligned[i] + exposure)
      weights[i] += weight
      if (++seen[i] < WITNESSES) continue
      lastRank[i] = rank
      closed++
    }
    return closed
  }

  /** 1 over the window's part where a donor shows something else than the clean plate. @param dirty receives it */
  dirt(
    { aligned, validity, exposure }: Pick<Registered, 'aligned' | 'validity' | 'exposure'>,
    dirty: Uint8Array = new Uint8Array(this.wanted.length),
  ): Uint8Array {
    markDirty(
      this.workspace,
      { aligned, validity, exposure, level: this.#level, spread: this.#spread },
      this.#w,
      dirty,
      this.part,
    )
    return dirty
  }

  /** The same, and what shows another colour. @param dirty of the donor by its luminance; receives it */
  #unlent(donor: FrameKey, dirty: Uint8Array): Uint8Array {
    const other = this.otherColour?.(donor)
    if (other)
      this.#each((i) => {
        dirty[i] |= other[i]
      })
    return dirty
  }

  lender(donor: Registered, column: number, seam: number): Lender {
    const { validity, exposure } = donor
    const own = new Float32Array(this.tiles)
    const all = new Float32Array(this.tiles)
    const dirty = new Int32Array(this.tiles)
    this.workspace.within((scratch) => {
      const aligned = scratch.laid(donor.aligned)
      const dirt = this.#unlent(donor, this.dirt({ aligned, validity, exposure }, this.#dirty))
      const frame = { aligned, exposure, dirt }
      const likely = this.#likelyTo(donor, frame)
      const unit = 1 / this.grain ** 2
      tileDistances(this.workspace, frame, likely, unit, this.#pixels, this.#tileOf, { own, all, dirty })
    })
    return { donor, column, own, all, dirty, ring: seam * seam }
  }

  /** What the wanted pixels likely show without a donor's own word: it would look the likelier for it. */
  #likelyTo(donor: Registered, frame: LenderFrame): Readonly<Float64Array> {
    const witness = this.#rank.get(donor)
    if (witness !== undefined) {
      this.#layLikely(frame, { rank: witness.rank, said: witness.weight }, this.#withoutOne)
      return this.#withoutOne
    }
    if (!this.#isLikelyKnown) this.#layLikely(frame, { rank: 0, said: 0 }, this.#likely)
    this.#isLikelyKnown = true
    return this.#likely
  }

  #layLikely(frame: LenderFrame, word: { rank: number; said: number }, likely: Float64Array): void {
    const least = MIN_WITNESS / 2
    likelyWithout(this.workspace, this.#witnesses, frame, word, least, this.#pixels, likely)
  }

  /** What a tile costs from a donor. */
  tilePrice({ own, dirty, ring }: Lender, tile: number): number {
    const clean = this.size[tile] - dirty[tile]
    return (
      (clean > 0 ? (own[tile] / clean) * this.size[tile] : 0) + ring * this.size[tile] + DIRTY * dirty[tile]
    )
  }

  /** What each pixel of the part costs from a donor, row-major over the part, and where luminance tells that it is dirty. @param price receives it */
  prices(lender: Lender, price: Float32Array): { price: Float32Array; dirty: Uint8Array } {
    const { part } = this
    const dirt = this.dirt(lender.donor)
    const dirty = new Uint8Array(price.length)
    this.#each((i, _, k) => {
      dirty[k] = dirt[i]
    })
    const unlent = this.#unlent(lender.donor, dirt)
    const near = dilate(unlent, this.#w, unlent.length / this.#w, NEAR_PX)
    const clean = new Float32Array(this.tiles)
    for (let tile = 0; tile < clean.length; tile++) {
      const pixels = this.size[tile] - lender.dirty[tile]
      clean[tile] = (pixels > 0 ? lender.own[tile] / pixels : 0) + lender.ring
    }
    for (let y = 0; y < part.h; y++) {
      const row = Math.floor(y / TILE_PX) * this.tilesAcross
      const from = (part.y + y) * this.#w + part.x
      layPrices(clean.subarray(row), unlent, near, from, price, y * part.w, part.w)
    }
    return { price, dirty }
  }

  /** A donor's picture over the part in units of the grain, its grain itself brought down to a third by 3 x 3 means. @param out receives it */
  picture({ donor: { aligned, exposure } }: Lender, out: Float32Array): Float32Array {
    const { part } = this
    const data = new Float32Array(part.w * part.h)
    for (let y = 0; y < part.h; y++)
      layGrains(
        aligned,
        (part.y + y) * this.#w + part.x,
        exposure,
        this.grain,
        data.subarray(y * part.w, (y + 1) * part.w),
      )
    return boxMean(this.workspace, data, part.w, 1, out)
  }

  /** Every pixel of the part: its index in the window, its tile, its index in the part. */
  #each(visit: (i: number, tile: number, k: number) => void): void {
    const { part } = this
    for (let y = 0, k = 0; y < part.h; y++) {
      const row = Math.floor(y / TILE_PX) * this.tilesAcross
      const from = (part.y + y) * this.#w + part.x
      for (let x = 0; x < part.w; x++, k++) visit(from + x, row + Math.floor(x / TILE_PX), k)
    }
  }

  /** A pixel of the part in the window. */
  placeOf(k: number): number {
    const y = Math.floor(k / this.part.w)
    return (this.part.y + y) * this.#w + this.part.x + (k - y * this.part.w)
  }

  /** The pixel of the part in the middle of a tile. */
  middleOf(tile: number): number {
    const { w, h } = this.part
    const middle = (at: number, end: number) => Math.min(end - 1, at * TILE_PX + (TILE_PX >> 1))
    const y = middle(Math.floor(tile / this.tilesAcross), h)
    return y * w + middle(tile % this.tilesAcross, w)
  }

  tileOf(k: number): number {
    const y = Math.floor(k / this.part.w)
    return Math.floor(y / TILE_PX) * this.tilesAcross + Math.floor((k - y * this.part.w) / TILE_PX)
  }
}

/**
 * One row of a lender's prices.
 *
 * @param clean what a clean pixel costs, per tile from the row's first
 * @param from  the row's first pixel in the window, `at` in the part, of `width`
 */
function layPrices(
  clean: Readonly<Float32Array>,
  dirt: Readonly<Uint8Array>,
  near: Readonly<Uint8Array>,
  from: number,
  price: Float32Array,
  at: number,
  width: number,
): void {
  for (let x = 0; x < width; x++) {
    const more = dirt[from + x] === 1 ? DIRTY : near[from + x] === 1 ? NEAR_DIRTY : 0
    price[at + x] = clean[(x / TILE_PX) | 0] + more
  }
}

/** One row of a picture in units of the grain. */
function layGrains(
  aligned: Readonly<Float32Array>,
  from: number,
  exposure: number,
  grain: number,
  out: Float32Array,
): void {
  for (let x = 0; x < out.length; x++) out[x] = (aligned[from + x] + exposure) / grain
}
