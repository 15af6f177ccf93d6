// The light of pairs of frames: what brings a donor to a target, channel by channel, over the surround and in parts of it.
// Frames are read again for it, most of them from the cache: colour is wanted of a few dozen pairs only, and keeping it of
// all frames would fill the memory.

import type { Plate } from '../../footage/plate.js'
import type { FieldFrame, TileLight } from '../../match/light-field.js'
import { middleMean } from '../../match/selection.js'
import { BILINEAR, filterTaps } from '../../raster/filters.js'
import { HALF_VALUES } from '../../raster/half.js'
import type { Rect } from '../../raster/rect.js'
import { type PixelTaps, tapsUnder } from '../../raster/resample.js'
import { shiftOf } from '../../raster/transform.js'
import type { Region, RegionFrame } from '../../region/region.js'
import { type FrameKey, keyOf } from '../../shot/frame-key.js'
import { keptHalves } from '../../track/read-frames.js'
import { between, type Registered } from '../register.js'
import { agreeingLight } from './agreeing-light.js'
import type { Matrix } from './matrix.js'
import type { RegionColours } from './region-colours.js'
import type { Light } from './steady-exposure.js'

/** Pixels of the surround that light is measured on: more make it no steadier than grain allows. */
const LIGHT_PIXELS = 1024
/** Fewer of them than this with nobody before them in either frame, and the pair tells no light. */
const MIN_PIXELS = 64
/** The window is cut into so many parts across and down; those that the surround passes through tell how light differs. */
const TILES = 4
/** Fewer pixels than this tell nothing of a part. */
const MIN_TILE_PIXELS = 16

export interface LightJob {
  readonly plates: readonly Plate[]
  /** What of every frame was read for the search. */
  readonly rect: Rect
  readonly region: Region
  readonly matrix: Matrix
}

/** How far the measuring is: donor frames. */
export interface Measuring {
  readonly done: number
  readonly total: number
}

/** What was measured of a pair. */
export interface PairLight {
  readonly light: Light
  /** By index of the part; null where too little of it is seen. */
  readonly tiles: readonly (TileLight | null)[]
}

/** What the parts of a region's light are measured from. */
export function fieldFrame({ box, window }: Region): FieldFrame {
  return {
    x: box.x + (box.w - 1) / 2,
    y: box.y + (box.h - 1) / 2,
    span: Math.max(window.w, window.h) / 2,
  }
}

/** A target frame's light at the places that are compared. */
interface Sampled {
  readonly target: Registered
  /** Indices into the window; of those where nobody passes. */
  readonly places: Int32Array
  /** Three per place; NaN where it says nothing. */
  readonly light: Float32Array
}

export function keyOfPair(target: number, { plate, frame }: FrameKey): string {
  return `${target} ${plate} ${frame}`
}

/**
 * By `keyOfPair`; null where too little of a pair is seen.
 *
 * @param colours takes what every donor shows in the region
 * @throws FRAME_UNREADABLE where a frame has gone since the search
 */
export async function* measureLight(
  pairs: readonly { target: number; plate: number; donor: number }[],
  { plates, rect, region, matrix }: LightJob,
  colours: RegionColours,
): AsyncGenerator<Measuring, Map<string, PairLight | null>> {
  const known = new Map([...matrix.frames, ...matrix.donors].map((f) => [keyOf(f), f]))
  const places = new Map<RegionFrame, Int32Array>()
  const sampled = new Map<number, Sampled>()
  const clip = plates.map((p) => p.clipLevel)
  const total = new Set(pairs.map((p) => `${p.plate} ${p.donor}`)).size
  let done = 0
  for await (const { frame, picture: halves, error } of keptHalves(
    plates[0],
    [...new Set(pairs.map((p) => p.target))],
    rect,
  )) {
    if (halves === undefined) throw error
    const target = known.get(keyOf({ plate: 0, frame }))!
    const mask = region.frames.get(frame)!
    const ring = places.get(mask) ?? placesOf(mask)
    places.set(mask, ring)
    const steady = matrix.steady.get(target)!
    const gridOf = onGrid(target, region.window)
    const here = ring.filter((i) => steady[gridOf(i)] === 1)
    sampled.set(frame, { target, places: here, light: sample(halves, here, rect, region, clip[0]) })
  }
  const found = new Map<string, PairLight | null>()
  for (const [plate, source] of plates.entries()) {
    const byDonor = new Map<number, number[]>()
    for (const p of pairs) {
      if (p.plate === plate) byDonor.set(p.donor, [...(byDonor.get(p.donor) ?? []), p.target])
    }
    for await (const { frame, picture: halves, error } of keptHalves(source, [...byDonor.keys()], rect)) {
      if (halves === undefined) throw error
      const donor = known.get(keyOf({ plate, frame }))!
      colours.add(donor, halves, { rect, clip: clip[plate] })
      for (const target of byDonor.get(frame)!) {
        const steady = matrix.steady.get(donor)!
        const light = lightOf(sampled.get(target)!, donor, steady, halves, rect, region, clip[plate])
        found.set(keyOfPair(target, { plate, frame }), light)
      }
      yield { done: ++done, total }
    }
  }
  return found
}

/**
 * Where each of a frame's pixels lies on the common grid, as an index; -1 beyond the window. The nearest whole pixel will do:
 * that nobody passes there is told of means of 3 x 3 pixels.
 */
function onGrid({ pose }: Registered, window: Rect): (i: number) => number {
  const { w, h } = window
  const { dx, dy } = shiftOf(pose, window)
  const [right, down] = [Math.round(dx), Math.round(dy)]
  return (i) => {
    const x = (i % w) + right
    const y = Math.floor(i / w) + down
    return x < 0 || y < 0 || x >= w || y >= h ? -1 : y * w + x
  }
}

/** Even places on a mask's surround. */
function placesOf({ surround }: RegionFrame): Int32Array {
  const all: number[] = []
  for (let i = 0; i < surround.length; i++) if (surround[i] > 0) all.push(i)
  const stride = Math.max(1, Math.floor(all.length / LIGHT_PIXELS))
  return Int32Array.from(all.filter((_, k) => k % stride === 0))
}

function sample(
  halves: Readonly<Uint16Array>,
  places: Readonly<Int32Array>,
  rect: Rect,
  { window }: Region,
  clip: number,
): Float32Array {
  const light = new Float32Array(3 * places.length).fill(Number.NaN)
  for (let k = 0; k < places.length; k++) {
    const i = places[k]
    const x = (i % window.w) + window.x - rect.x
    const y = Math.floor(i / window.w) + window.y - rect.y
    for (let c = 0; c < 3; c++) {
      const value = HALF_VALUES[halves[(y * rect.w + x) * 3 + c]]
      if (value < clip) light[3 * k + c] = value
    }
  }
  return light
}

/**
 * From the log ratios over the surround where nobody passes in either frame, as far as luminance tells; who is as bright as
 * the wall passes for it, but has no say either. Null where too little is seen.
 */
function lightOf(
  { target, places, light: shown }: Sampled,
  donor: Registered,
  steady: Readonly<Uint8Array>,
  halves: Readonly<Uint16Array>,
  rect: Rect,
  region: Region,
  clip: number,
): PairLight | null {
  // All four neighbours at whole offsets, too: which places count must not hang on how an offset falls.
  const under = tapsUnder(between(target, donor), BILINEAR, filterTaps)
  const ratios = [0, 1, 2].map(() => new Float32Array(places.length))
  const seen = new Int32Array(places.length)
  const both = steadyPlaces(places, steady, onGrid(target, region.window))
  const n = logRatios(places, both, shown, halves, rect, region.window, clip, under, ratios, seen)
  if (n < Math.min(MIN_PIXELS, places.length / 2) || n === 0) return null
  const [r, g, b] = ratios
  const among = new Uint8Array(n).fill(1)
  // Another camera has another colour of its own, so there it is no witness that somebody is in the way.
  const light =
    donor.plate === target.plate
      ? agreeingLight([r, g, b], n, among)
      : ([r, g, b].map((ratio) => middleMean(ratio.slice(0, n), n)) as unknown as Light)
  return { light, tiles: tilesOf([r, g, b], seen, among, light, region) }
}

/** Which of the places, by their place in the list, a donor shows with nobody there. */
function steadyPlaces(
  places: Readonly<Int32Array>,
  steady: Readonly<Uint8Array>,
  gridOf: (i: number) => number,
): Int32Array {
  const out = new Int32Array(places.length)
  let n = 0
  for (let k = 0; k < places.length; k++) if (steady[gridOf(places[k])] === 1) out[n++] = k
  return out.subarray(0, n)
}

/**
 * log2 of target over donor, channel by channel, at the places that both show.
 *
 * @param of     which of the places are looked at
 * @param ratios receives them, side by side, and `seen` the places, as many as is returned
 */
function logRatios(
  places: Readonly<Int32Array>,
  of: Readonly<Int32Array>,
  shown: Readonly<Float32Array>,
  halves: Readonly<Uint16Array>,
  rect: Rect,
  window: Rect,
  clip: number,
  under: (x: number, y: number) => PixelTaps,
  ratios: readonly Float32Array[],
  seen: Int32Array,
): number {
  let n = 0
  for (let j = 0; j < of.length; j++) {
    const k = of[j]
    const px = (places[k] % window.w) + window.x
    const py = Math.floor(places[k] / window.w) + window.y
    const { across, down } = under(px, py)
    const x = px - rect.x + across.start
    const y = py - rect.y + down.start
    if (x < 0 || y < 0 || x + 1 >= rect.w || y + 1 >= rect.h) continue
    const at = (y * rect.w + x) * 3
    const below = at + rect.w * 3
    const left = across.weights[0]
    const right = across.weights[1]
    const upper = down.weights[0]
    const lower = down.weights[1]
    let good = true
    for (let c = 0; c < 3; c++) {
      const value =
        upper * (left * HALF_VALUES[halves[at + c]] + right * HALF_VALUES[halves[at + 3 + c]]) +
        lower * (left * HALF_VALUES[halves[below + c]] + right * HALF_VALUES[halves[below + 3 + c]])
      const ratio = Math.log2(shown[3 * k + c] / value)
      if (value < clip && Number.isFinite(ratio)) ratios[c][n] = ratio
      else good = false
    }
    if (good) seen[n++] = places[k]
  }
  return n
}

function tilesOf(
  ratios: readonly Readonly<Float32Array>[],
  seen: Readonly<Int32Array>,
  among: Readonly<Uint8Array>,
  light: Light,
  region: Region,
): (TileLight | null)[] {
  const { window } = region
  const { x, y, span } = fieldFrame(region)
  const sums = new Float64Array(2 * TILES * TILES)
  const members = membersOf(seen, among, window, { x: window.x - x, y: window.y - y }, sums)
  const values = new Float32Array(among.length)
  return members.map((of, tile) => {
    const pixels = of.length
    if (pixels < MIN_TILE_PIXELS) return null
    const stops = ratios.map((ratio, c) => {
      for (let k = 0; k < pixels; k++) values[k] = ratio[of[k]]
      return middleMean(values, pixels) - light[c]
    }) as unknown as TileLight['stops']
    return { u: sums[2 * tile] / pixels / span, v: sums[2 * tile + 1] / pixels / span, pixels, stops }
  })
}

/**
 * Per tile the pixels of the group that lie in it, by their place in `seen`.
 *
 * @param from added to a pixel's place in the window
 * @param sums receives per tile the sums of their places, x and y
 */
function membersOf(
  seen: Readonly<Int32Array>,
  among: Readonly<Uint8Array>,
  window: Rect,
  from: { readonly x: number; readonly y: number },
  sums: Float64Array,
): Int32Array[] {
  const { w, h } = window
  const n = among.length
  const tileOf = new Uint8Array(n)
  const ends = new Int32Array(TILES * TILES)
  for (let i = 0; i < n; i++) {
    if (among[i] === 0) continue
    const across = seen[i] % w
    const down = (seen[i] - across) / w
    const tile = Math.floor((TILES * down) / h) * TILES + Math.floor((TILES * across) / w)
    tileOf[i] = tile
    ends[tile]++
    sums[2 * tile] += across + from.x
    sums[2 * tile + 1] += down + from.y
  }
  const starts = new Int32Array(ends.length)
  for (let tile = 1; tile < ends.length; tile++) starts[tile] = starts[tile - 1] + ends[tile - 1]
  const members = new Int32Array(n)
  ends.set(starts)
  for (let i = 0; i < n; i++) if (among[i] !== 0) members[ends[tileOf[i]]++] = i
  return Array.from(starts, (start, tile) => members.subarray(start, ends[tile]))
}
