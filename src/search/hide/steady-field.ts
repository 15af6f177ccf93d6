// How the light differs over the region, over a candidate's frames. Whether there is a field at all, a plane or a surface of
// second order, is one answer for the whole candidate: a choice made frame by frame would flicker.
import {
  errorLeftOut,
  type FittedField,
  fitField,
  residualOf,
  TERM_COUNTS,
  type TermCount,
  type TileLight,
} from '../../match/light-field.js'
import { insertInOrder } from '../../match/selection.js'
import { STEADY_FRAMES } from './steady-exposure.js'

/** What the ring shows of one frame of a candidate. */
export interface MeasuredTiles {
  /** The donor's plate. */
  readonly plate: number
  /** By index of the tile; null where too little of it is seen. */
  readonly tiles: readonly (TileLight | null)[]
}

/** A term more must tell the tiles that it has not seen this much better, as a share of the mean squared error. */
const MAX_SHARE = 0.7
/** ... and by this much, stops RMS: a smaller field is not seen beside any grain. */
const MIN_FIELD = 0.004
/** Frames on which the number of terms is chosen: neighbours say much the same. */
const CHOOSING_FRAMES = 12

/** How many terms a candidate's light has. @param frames usual tiles of its frames */
export function termsOf(frames: readonly (readonly TileLight[])[]): TermCount {
  const step = Math.max(1, Math.floor(frames.length / CHOOSING_FRAMES))
  const looked = frames.filter((_, i) => i % step === 0)
  let best: TermCount = 0
  let error = meanError(looked, 0)
  for (const terms of TERM_COUNTS) {
    if (terms === 0) continue
    const now = meanError(looked, terms)
    if (error === null || now === null) return best
    if (now < MAX_SHARE * error && error - now > MIN_FIELD ** 2) {
      best = terms
      error = now
    }
  }
  return best
}

function meanError(frames: readonly (readonly TileLight[])[], terms: TermCount): number | null {
  const errors = frames.flatMap((tiles) => errorLeftOut(tiles, terms) ?? [])
  return errors.length < frames.length / 2 || errors.length === 0
    ? null
    : errors.reduce((sum, e) => sum + e, 0) / errors.length
}

/**
 * @param frames in order of the target frames
 * @returns per frame and channel the constant and the terms, stops; null: the light is even
 */
export function steadyField(frames: readonly MeasuredTiles[]): readonly FittedField['terms'][] | null {
  const usual = frames.map((_, i) => usualTiles(frames, i))
  const count = termsOf(usual)
  if (count === 0) return null
  const steady = usual.map((tiles) => fitField(tiles, count)?.terms ?? null)
  const own = frames.map(({ tiles }) => {
    const seen = tiles.filter((tile) => tile !== null)
    const fit = fitField(seen, count)
    return fit && seen.length > count + 1 ? { fit, variance: residualOf(seen, fit) } : null
  })
  const even = [0, 1, 2].map(() => new Float64Array(count + 1)) as unknown as FittedField['terms']
  return frames.map((_, i) => {
    const base = steady[i] ?? nearest(steady, i) ?? even
    const here = own[i]
    if (here === null) return base
    return base.map((channel, c) =>
      channel.map((term, k) => term + followed(steady, own, c, k) * (here.fit.terms[c][k] - term)),
    ) as unknown as FittedField['terms']
  })
}

/**
 * The share of a term's departures from its steady value that is more than chance, and that the light therefore follows:
 * N. Wiener's filter of one number (1949).
 */
function followed(
  steady: readonly (FittedField['terms'] | null)[],
  own: readonly ({ fit: FittedField; variance: number } | null)[],
  c: number,
  k: number,
): number {
  let [departures, chance] = [0, 0]
  for (const [i, one] of own.entries()) {
    const base = steady[i]
    if (one === null || base === null) continue
    departures += (one.fit.terms[c][k] - base[c][k]) ** 2
    chance += one.variance * one.fit.spread[k]
  }
  return departures > 0 ? Math.max(0, 1 - chance / departures) : 0
}

/** Each tile's median over the frames round one, of the same plate. */
function usualTiles(frames: readonly MeasuredTiles[], i: number): TileLight[] {
  const near = frames.filter(({ plate }, k) => Math.abs(k - i) <= STEADY_FRAMES && plate === frames[i].plate)
  const values = new Float64Array(near.length)
  return frames[i].tiles.flatMap((_, t) => {
    const seen: TileLight[] = []
    for (const { tiles } of near) {
      const tile = tiles[t]
      if (tile) seen.push(tile)
    }
    // A tile that is hidden on most frames says on the others what passes there.
    if (seen.length === 0 || seen.length < near.length / 2) return []
    const of = (value: (tile: TileLight) => number) => {
      for (let k = 0; k < seen.length; k++) insertInOrder(values, k, value(seen[k]))
      return values[seen.length >> 1]
    }
    return [
      {
        u: of((s) => s.u),
        v: of((s) => s.v),
        pixels: of((s) => s.pixels),
        stops: [of((s) => s.stops[0]), of((s) => s.stops[1]), of((s) => s.stops[2])] as const,
      },
    ]
  })
}

function nearest<T>(values: readonly (T | null)[], i: number): T | null {
  let best: T | null = null
  let distance = Number.POSITIVE_INFINITY
  for (const [k, value] of values.entries()) {
    if (value === null || Math.abs(k - i) >= distance) continue
    best = value
    distance = Math.abs(k - i)
  }
  return best
}
