// Luminance is all that a search keeps of every frame, and somebody whose coat is as bright as the wall passes for it. Where
// colour is read for the light of the candidates that are kept, the region's is compared, too: by tiles, with what
// frames spread over the plate show there that pass for empty in any of the states that may hold.

import { MAD_TO_SIGMA, select } from '../../match/selection.js'
import { subsampleMiddles } from '../../match/subsample.js'
import { CLEAN_SHARE } from '../../match/thresholds.js'
import { displaySlope } from '../../match/visible-error.js'
import { HALF_VALUES } from '../../raster/half.js'
import type { Rect } from '../../raster/rect.js'
import { shiftOf } from '../../raster/transform.js'
import type { Region } from '../../region/region.js'
import { type FrameKey, keyOf } from '../../shot/frame-key.js'
import type { Registered } from '../register.js'
import { maskOnGrid } from './mask-on-grid.js'
import type { Matrix } from './matrix.js'
import type { Light } from './steady-exposure.js'

/** Frames of a plate that tell which colour a tile has; with fewer than the least of them nothing is told. */
const WITNESSES = 24
const MIN_WITNESSES = 8
/** The same where each tells of a part only. */
const PARTLY = 48
/** Of the target's plate those nearest to the target on either side: a colour may drift, and what holds there now is no stranger. */
const NEAR_WITNESSES = 6
/** A tile's side, pixels, in a small region, and how many there are at most in a large one. */
const TILE_PX = 6
const MAX_TILES = 400
/** Pixels of a tile that are looked at, across and down: a mean over more tells no more. */
const SAMPLED = 5
/**
 * A channel that is off by less than this, of the display's code values, is of the same colour: five of 255. A fine coding's
 * own errors in the mean over a tile stay below it on two real cameras.
 */
const VISIBLE_CODE = 0.02
/**
 * A coarse one's do not: its chroma is rounded to steps, by blocks that are larger than a tile, and who shows another colour so
 * far is only the coding. It is believed up to a multiple of what is visible, 12 of 255: about one step of chroma at quality
 * 19 (ITU-T T.81, table K.2, read as red over green). What is further off is somebody, however many frames show it.
 */
const MAX_CODING = 2.4
/** Of the witnesses this share pass for empty by their colour, too, unless somebody is on more of them. */
const EMPTY_WITNESSES = 0.9
/** ... and so is what lies within so many spreads of the witnesses, which are believed up to a multiple of the usual one. */
const SIGMA = 4
const MAX_SPREAD = 3
/** What a coding's largest steps come to lies below the limit. */
const JUST_BELOW = 1.05
/** Spreads of nothing at all are this, stops. */
const MIN_SIGMA = 1e-6
/** Keeps black from having a colour: a fifth of a per cent of light. */
const FLOOR = 0.002

/** Per tile red over green and blue over green, stops, and log2 of green; NaN where a frame shows nothing of it. */
type Colours = Float32Array
const NUMBERS = 3

/** Frames that pass for empty in one state: spread over each plate, and those next to the target. */
interface Witnesses {
  readonly spread: readonly Registered[]
  readonly near: readonly Registered[]
}

export class RegionColours {
  /** Per state. */
  readonly #states: readonly Witnesses[]
  /** 1 more than a tile's number over the window, 0 where no target's mask lies. */
  readonly #tileAt: Int32Array
  /** Pixels of each tile under a mask. */
  readonly #areas: Float64Array
  readonly #sampled: Int32Array
  readonly #sampledTile: Int32Array
  readonly #across: number
  readonly #tiles: number
  readonly window: Rect
  readonly #found = new Map<string, FrameKey & { readonly light: Float64Array }>()
  /** Where nobody passes on a frame, as far as luminance tells; null: whole frames are witnesses, and seen whole. */
  readonly #steady: Matrix['steady'] | null

  constructor(
    { window, frames }: Region,
    { targets, usual, frames: all, steady }: Pick<Matrix, 'targets' | 'usual' | 'frames' | 'steady'>,
  ) {
    this.window = window
    const middle = targets[targets.length >> 1].frame
    // In a crowd no frame is empty; every part of the region is on many of them.
    const isCrowd = usual.some((of) => of.length < MIN_WITNESSES)
    this.#steady = isCrowd ? steady : null
    this.#states = isCrowd ? [partlyOf(all, targets)] : usual.map((of) => witnessesOf(of, middle))
    const covered = new Uint8Array(window.w * window.h)
    for (const target of targets) {
      const mask = maskOnGrid(frames.get(target.frame)!.inside, target, window)
      for (let i = 0; i < covered.length; i++) covered[i] |= mask[i]
    }
    const area = covered.reduce((sum, v) => sum + v, 0)
    const side = Math.max(TILE_PX, Math.ceil(Math.sqrt(area / MAX_TILES)))
    this.#across = Math.ceil(window.w / side)
    this.#tiles = this.#across * Math.ceil(window.h / side)
    this.#tileAt = new Int32Array(covered.length)
    const step = Math.max(1, Math.floor(side / SAMPLED))
    const sampled: number[] = []
    for (let y = 0, i = 0; y < window.h; y++) {
      const row = Math.floor(y / side) * this.#across
      for (let x = 0; x < window.w; x++, i++) {
        if (covered[i] === 0) continue
        this.#tileAt[i] = row + Math.floor(x / side) + 1
        if (x % step === 0 && y % step === 0) sampled.push(i)
      }
    }
    this.#areas = new Float64Array(this.#tiles)
    for (const tile of this.#tileAt) if (tile > 0) this.#areas[tile - 1]++
    this.#sampled = Int32Array.from(sampled)
    this.#sampledTile = this.#sampled.map((i) => this.#tileAt[i] - 1)
  }

  /** Frames whose colours are wanted, whoever lends. */
  get witnesses(): readonly Registered[] {
    return this.#states.flatMap(({ spread, near }) => [...spread, ...near])
  }

  /**
   * Takes a frame's colours.
   *
   * @param halves linear RGB over `rect` of the plate; from `clip` on a channel says nothing
   */
  add(frame: Registered, halves: Readonly<Uint16Array>, { rect, clip }: { rect: Rect; clip: number }): void {
    const { window } = this
    const key = keyOf(frame)
    if (this.#found.has(key)) return
    // To the nearest pixel: a tile's mean hangs little on less.
    const { dx, dy } = shiftOf(frame.pose, window)
    const [left, up] = [window.x - rect.x - Math.round(dx), window.y - rect.y - Math.round(dy)]
    const light = new Float64Array(4 * this.#tiles)
    const steady = this.#steady?.get(frame)
    for (let k = 0; k < this.#sampled.length; k++) {
      const i = this.#sampled[k]
      if (steady !== undefined && steady[i] === 0) continue
      const x = (i % window.w) + left
      const y = Math.floor(i / window.w) + up
      if (x < 0 || y < 0 || x >= rect.w || y >= rect.h) continue
      const at = 3 * (y * rect.w + x)
      const [r, g, b] = [HALF_VALUES[halves[at]], HALF_VALUES[halves[at + 1]], HALF_VALUES[halves[at + 2]]]
      if (!(r < clip && g < clip && b < clip)) continue
      const to = 4 * this.#sampledTile[k]
      light[to] += r
      light[to + 1] += g
      light[to + 2] += b
      light[to + 3]++
    }
    this.#found.set(key, { plate: frame.plate, frame: frame.frame, light })
  }

  /**
   * Per frame that was taken, by tile: how far its colour lies from that of its plate's witnesses, or of those next to the target,
   * whichever is nearer, as a multiple of what shows beside its coding; 0 where that is less than 1. A frame whose light is not
   * known has none, nor has any of a plate where one of the states has too few witnesses.
   *
   * @param lightOf stops per channel that bring a frame to one that is the same for all; null: not known
   */
  otherwise(lightOf: (frame: FrameKey) => Light | null): ReadonlyMap<string, Float32Array> {
    const colours = new Map<string, Colours>()
    for (const [key, { plate, frame, light }] of this.#found) {
      const brought = lightOf({ plate, frame })
      if (brought !== null) colours.set(key, coloursOf(light, brought))
    }
    const seen = (some: readonly Registered[]) => some.flatMap((f) => colours.get(keyOf(f)) ?? [])
    const out = new Map<string, Float32Array>()
    for (const plate of new Set(this.witnesses.map((f) => f.plate))) {
      const states = this.#states.map(({ spread, near }) => ({
        witnesses: seen(spread.filter((f) => f.plate === plate)),
        near: plate === 0 ? seen(near) : [],
      }))
      if (states.some(({ witnesses }) => witnesses.length < MIN_WITNESSES)) continue
      const known = states.map(({ witnesses, near }) => {
        const usual = usualOf(witnesses)
        return { usual, now: near.length >= MIN_WITNESSES ? usualOf(near).middle : usual.middle }
      })
      const off = new Map<string, Float32Array>()
      for (const [key, of] of colours) {
        if (this.#found.get(key)!.plate !== plate) continue
        off.set(key, nearest(known.map(({ usual, now }) => apart(of, usual, now))))
      }
      const passing = this.witnesses.flatMap((f) => off.get(keyOf(f)) ?? [])
      const coding = this.#codingOf([...new Set(passing)])
      for (const [key, of] of off) out.set(key, this.#together(of.map((times) => times / coding)))
    }
    return out
  }

  /** Over the window, 1 more than the number of a pixel's tile, 0 outside of all masks. */
  get tileAt(): Readonly<Int32Array> {
    return this.#tileAt
  }

  /**
   * What the plate's own coding makes of its colours, over what is visible: the least from which on nearly all witnesses pass
   * for empty by their colour as they do by their luminance. 1 to `MAX_CODING`.
   */
  #codingOf(witnesses: readonly Float32Array[]): number {
    const room = (1 - CLEAN_SHARE) * this.#areas.reduce((sum, area) => sum + area, 0)
    const passes = witnesses
      .map((apart) => this.#passesFrom(this.#together(apart), room))
      .sort((a, b) => a - b)
    const coding = passes[Math.floor(EMPTY_WITNESSES * passes.length)] ?? 0
    return Math.min(MAX_CODING, Math.max(1, coding * JUST_BELOW))
  }

  /** What no more than `room` pixels lie beyond. */
  #passesFrom(apart: Readonly<Float32Array>, room: number): number {
    const furthest = [...apart.keys()].sort((a, b) => apart[b] - apart[a])
    let beyond = 0
    for (const tile of furthest) {
      beyond += this.#areas[tile]
      if (beyond > room) return apart[tile]
    }
    return 0
  }

  /** Somebody is larger than a tile: what no tile beside it shares is chance, or an edge that was placed otherwise. */
  #together(apart: Float32Array): Float32Array {
    const across = this.#across
    return apart.map((v, i) => {
      const beside =
        (i % across > 0 && apart[i - 1] >= 1) ||
        ((i + 1) % across > 0 && apart[i + 1] >= 1) ||
        apart[i - across] >= 1 ||
        apart[i + across] >= 1
      return v >= 1 && beside ? v : 0
    })
  }
}

/** @param usual what passes for empty in one state; `middle` the middle target frame */
function witnessesOf(usual: readonly Registered[], middle: number): Witnesses {
  const own = usual.filter((f) => f.plate === 0)
  return {
    spread: spreadOver(usual, WITNESSES),
    near: [
      ...own.filter((f) => f.frame < middle).slice(-NEAR_WITNESSES),
      ...own.filter((f) => f.frame > middle).slice(0, NEAR_WITNESSES),
    ],
  }
}

/** Frames spread over each plate, of which every part that passes for empty is a witness by itself. */
function partlyOf(all: readonly Registered[], targets: readonly Registered[]): Witnesses {
  const others = all.filter((f) => f.held && !targets.includes(f))
  return { spread: spreadOver(others, PARTLY), near: [] }
}

/** @param most of each plate */
function spreadOver(frames: readonly Registered[], most: number): Registered[] {
  const plates = [...new Set(frames.map(({ plate }) => plate))]
  return plates.flatMap((plate) =>
    subsampleMiddles(
      frames.filter((f) => f.plate === plate),
      most,
    ),
  )
}

/** Tile by tile the least. */
function nearest([first, ...others]: readonly Float32Array[]): Float32Array {
  return others.reduce((least, of) => least.map((v, tile) => Math.min(v, of[tile])), first)
}

function coloursOf(light: Readonly<Float64Array>, brought: Light): Colours {
  const tiles = light.length / 4
  const out = new Float32Array(NUMBERS * tiles).fill(Number.NaN)
  for (let t = 0; t < tiles; t++) {
    const n = light[4 * t + 3]
    if (n === 0) continue
    const level = (c: number) => Math.log2((2 ** brought[c] * Math.max(0, light[4 * t + c])) / n + FLOOR)
    const green = level(1)
    out[NUMBERS * t] = level(0) - green
    out[NUMBERS * t + 1] = level(2) - green
    out[NUMBERS * t + 2] = green
  }
  return out
}

interface Usual {
  /** The middle of what witnesses show, and their spread; NaN where too few show anything. */
  readonly middle: Colours
  readonly sigma: Float32Array
}

function usualOf(witnesses: readonly Colours[]): Usual {
  const { length } = witnesses[0]
  const middle = new Float32Array(length).fill(Number.NaN)
  const sigma = new Float32Array(length)
  const values = new Float32Array(witnesses.length)
  const known: number[] = []
  for (let i = 0; i < length; i++) {
    let n = 0
    for (const colours of witnesses) if (Number.isFinite(colours[i])) values[n++] = colours[i]
    if (n < MIN_WITNESSES) continue
    const centre = select(values, n >> 1, n)
    for (let k = 0; k < n; k++) values[k] = Math.abs(values[k] - centre)
    middle[i] = centre
    sigma[i] = MAD_TO_SIGMA * select(values, n >> 1, n)
    if (i % NUMBERS < 2) known.push(sigma[i])
  }
  // Who passes on many of the witnesses makes a tile's spread large: it is believed as far as the other tiles allow.
  const typical = known.length > 0 ? select(Float32Array.from(known), known.length >> 1) : 0
  return { middle, sigma: sigma.map((s) => Math.min(s, MAX_SPREAD * typical)) }
}

/** By tile, over what is visible; 0 within the spread. */
function apart(colours: Colours, { middle, sigma }: Usual, now: Colours): Float32Array {
  return Float32Array.from({ length: colours.length / NUMBERS }, (_, t) => {
    const green = middle[NUMBERS * t + 2]
    const over = (i: number, from: number) => {
      const off = Math.abs(colours[i] - from)
      if (!(off >= SIGMA * sigma[i] + MIN_SIGMA)) return 0
      const times = (off * displaySlope(green + middle[i])) / VISIBLE_CODE
      return Number.isFinite(times) ? times : 0
    }
    const both = (i: number) =>
      Math.min(over(i, middle[i]), over(i, Number.isFinite(now[i]) ? now[i] : middle[i]))
    return Math.max(both(NUMBERS * t), both(NUMBERS * t + 1))
  })
}
