// The light of the candidates that are kept, channel by channel: a gain, and where the light differs over the region a field;
// and whether it falls on the region's own colour.

import { type FieldFrame, type FittedField, fitField, type TileLight } from '../../match/light-field.js'
import { type FrameKey, keyOf } from '../../shot/frame-key.js'
import type { Candidate, FrameMatch, LightFieldEntry } from '../result.js'
import { byRank } from '../score.js'
import { type OtherColourOf, otherColourOf, withoutOtherColour } from './other-colour.js'
import {
  fieldFrame,
  keyOfPair,
  type LightJob,
  type Measuring,
  measureLight,
  type PairLight,
} from './pair-light.js'
import { RegionColours } from './region-colours.js'
import { steadyExposure } from './steady-exposure.js'
import { steadyField, termsOf } from './steady-field.js'

/** Linear-light factor per channel that brings a donor to a target. */
type Gain = [number, number, number]

/** Stops per channel: first the constant, then the terms of a field, if there is one. */
type Lit = FittedField['terms']

/** A mosaic without strange colours may be expected this much further off, dB. */
const NO_LESS_DB = 0.1

/** A target frame and a donor's that light is measured of. */
type LightPair = Parameters<typeof measureLight>[0][number]

/** A candidate, and per frame who leads of its donors; null where there is one. */
interface Led {
  readonly candidate: Candidate
  readonly leads: readonly (FrameKey | null)[]
}

/**
 * The candidates with their light measured and what shows another colour told, best first.
 *
 * @param mosaicWithout makes a mosaic anew without that; null: there is none
 * @throws FRAME_UNREADABLE where a frame has gone since the search
 */
export async function* withGains(
  candidates: readonly Candidate[],
  job: LightJob,
  mosaicWithout: (otherColour: OtherColourOf) => Promise<Candidate | null>,
): AsyncGenerator<Measuring, Candidate[]> {
  const { matrix, region } = job
  const { targets } = matrix
  const middle = targets[targets.length >> 1].frame
  const colours = new RegionColours(region, matrix)
  const found = new Map<string, PairLight | null>()
  const lighting = new Lighting(found, job, middle)
  /** With the light of pairs that are not known yet. */
  async function* litOf(some: readonly Candidate[]): AsyncGenerator<Measuring, Candidate[]> {
    const led = some.map((candidate) => ({ candidate, leads: leadsOf(candidate) }))
    const wanted = pairsOf(led, middle, colours.witnesses).filter(({ target, plate, donor }) => {
      return !found.has(keyOfPair(target, { plate, frame: donor }))
    })
    for (const [key, light] of yield* measureLight(wanted, job, colours)) found.set(key, light)
    return led.map((one) => lighting.lit(one))
  }
  const lit = yield* litOf(candidates)
  const otherwise = colours.otherwise((frame) => lighting.of(middle, frame)?.light ?? null)
  const coloured = { tileAt: colours.tileAt, otherwise }
  const told = withoutOtherColour(lit, coloured, region, matrix)
  const mosaic = told.find(({ kind, id, clean }) => {
    return kind === 'mosaic' && clean !== candidates.find((c) => c.id === id)!.clean
  })
  const anew = mosaic === undefined ? null : await mosaicWithout(otherColourOf(coloured))
  if (anew === null) return told
  // Only whose colours are known may lend to it.
  const [again] = withoutOtherColour(yield* litOf([anew]), coloured, region, matrix)
  return told.map((c) => (c === mosaic && isBetter(again, c) ? again : c)).sort(byRank)
}

/** On water and in leaves colours go on changing: what is lent to avoid that is further off. */
function isBetter(anew: Candidate, mosaic: Candidate): boolean {
  return anew.clean! > mosaic.clean! && anew.expected! >= mosaic.expected! - NO_LESS_DB
}

/** The pairs whose light is wanted, each once: those that lend, and all donors and witnesses against the middle target frame. */
function pairsOf(led: readonly Led[], middle: number, witnesses: readonly FrameKey[]): LightPair[] {
  const pairs = new Map<string, LightPair>()
  const want = (target: number, { plate, frame }: FrameKey) =>
    pairs.set(keyOfPair(target, { plate, frame }), { target, plate, donor: frame })
  for (const { candidate, leads } of led) {
    for (const [i, match] of candidate.frames.entries()) {
      const { target, stack, pieces } = match
      want(target, leads[i] ?? donorOf(match))
      const shares = stack ?? pieces
      if (!shares) continue
      if (candidate.kind !== 'relay') want(middle, donorOf(match))
      for (const share of shares) want(candidate.kind === 'relay' ? target : middle, share)
    }
  }
  for (const frame of witnesses) want(middle, frame)
  for (const { plate, donor } of [...pairs.values()]) want(middle, { plate, frame: donor })
  return [...pairs.values()]
}

/** The donor of a frame that has one, or the largest of several. */
function donorOf({ plate, donor }: FrameMatch): FrameKey {
  return { plate, frame: donor }
}

/** What was measured of pairs, laid on candidates. */
class Lighting {
  readonly #field: FieldFrame
  /** Stops that bring a frame's luminance to the common light. */
  readonly #exposures: ReadonlyMap<string, number>
  /** What one donor needs beyond another: the same for all target frames. */
  readonly #beyond = new Map<string, Lit>()

  constructor(
    readonly found: ReadonlyMap<string, PairLight | null>,
    readonly job: LightJob,
    readonly middle: number,
  ) {
    const { donors, targets } = job.matrix
    this.#field = fieldFrame(job.region)
    this.#exposures = new Map([...donors, ...targets].map((f) => [keyOf(f), f.exposure]))
  }

  of(target: number, donor: FrameKey): PairLight | null {
    return this.found.get(keyOfPair(target, donor)) ?? null
  }

  lit({ candidate, leads }: Led): Candidate {
    return candidate.kind === 'relay' ? this.#relayed(candidate) : this.#passedOn(candidate, leads)
  }

  /** Of both donors of a dissolve the light is told on each of its frames: passed on from one to the other it would jump where they meet. */
  #relayed(candidate: Candidate): Candidate {
    const sideOf = (match: FrameMatch, k: 0 | 1): FrameKey => match.stack?.[k] ?? donorOf(match)
    const [light, other] = ([0, 1] as const).map((k) =>
      overTime(candidate.frames.map((match) => this.#broughtTo(match, sideOf(match, k)))),
    )
    const frames = candidate.frames.map((match, i) => {
      const entries = [light[i], other[i]].map((of) => entryOf(of, this.#field))
      const stack = match.stack?.map((share, k) => ({ ...share, ...entries[k] }))
      const isFirst = keyOf(sideOf(match, 0)) === keyOf(donorOf(match))
      return { ...match, ...entries[isFirst ? 0 : 1], ...(stack ? { stack } : {}) }
    })
    return { ...candidate, frames }
  }

  /** The donors of a stack or mosaic are brought to the middle frame, and with the one that leads to each: light is passed on, not measured anew. */
  #passedOn(candidate: Candidate, leads: Led['leads']): Candidate {
    const light = overTime(
      candidate.frames.map((match, i) => this.#broughtTo(match, leads[i] ?? donorOf(match))),
    )
    const frames = candidate.frames.map((match, i) => {
      const shares = match.stack ?? match.pieces
      const lead = leads[i]
      if (!shares || lead === null) return { ...match, ...entryOf(light[i], this.#field) }
      const entryFor = (share: FrameKey) =>
        entryOf(sumOf(light[i], this.#beyondLead(share, lead)), this.#field)
      const brought = shares.map((share) => ({ ...share, ...entryFor(share) }))
      return {
        ...match,
        ...entryFor(donorOf(match)),
        ...(match.stack ? { stack: brought } : { pieces: brought }),
      }
    })
    return { ...candidate, frames }
  }

  #beyondLead(share: FrameKey, lead: FrameKey): Lit {
    const key = `${keyOf(share)} ${keyOf(lead)}`
    const known = this.#beyond.get(key) ?? this.#beyondOf(share, lead)
    this.#beyond.set(key, known)
    return known
  }

  #beyondOf(share: FrameKey, lead: FrameKey): Lit {
    const [there, led] = [share, lead].map((of) => this.of(this.middle, of))
    if (there && led) return beyondOf(there, led)
    return even(this.#exposures.get(keyOf(share))! - this.#exposures.get(keyOf(lead))!)
  }

  /** What is known of a donor's light on a target frame, whether or not it is the one that the match was measured with. */
  #broughtTo(match: FrameMatch, from: FrameKey): Brought {
    const { target, stops } = match
    const isOwn = keyOf(from) === keyOf(donorOf(match))
    return { ...from, stops: isOwn ? stops : this.#stopsOf(target, from), seen: this.of(target, from) }
  }

  #stopsOf(target: number, donor: FrameKey): number | null {
    const { targets, donors, pair } = this.job.matrix
    const t = targets.findIndex(({ frame }) => frame === target)
    const d = donors.findIndex((f) => keyOf(f) === keyOf(donor))
    return pair(t, d).stops
  }
}

/**
 * Of what has several donors on a frame, the one that lends most over the range: that light is steady can be told of one
 * donor, and which of them has most of a frame may change from one to the next. Per frame; null where there is one donor.
 */
function leadsOf({ frames }: Candidate): (FrameKey | null)[] {
  const lent = new Map<string, number>()
  const sharesOf = ({ stack, pieces }: Candidate['frames'][number]) => stack ?? pieces ?? []
  for (const share of frames.flatMap(sharesOf))
    lent.set(keyOf(share), (lent.get(keyOf(share)) ?? 0) + share.weight)
  return frames.map((match) => {
    // Those that are like this frame have most of it: under a lamp that flashes the others are in another light.
    const shares = sharesOf(match)
    const largest = Math.max(...shares.map((s) => s.weight))
    const [most] = shares
      .filter((s) => 2 * s.weight >= largest)
      .sort((a, b) => lent.get(keyOf(b))! - lent.get(keyOf(a))!)
    return most ? { plate: most.plate, frame: most.frame } : null
  })
}

interface Brought extends FrameKey {
  readonly stops: number | null
  readonly seen: PairLight | null
}

/** The light of a donor on each target frame, steady as far as the plate's is. */
function overTime(frames: readonly Brought[]): Lit[] {
  const light = steadyExposure(
    frames.map(({ plate, frame, stops, seen }) => ({
      plate,
      donor: frame,
      stops,
      light: seen?.light ?? null,
    })),
  )
  const field = steadyField(frames.map(({ plate, seen }) => ({ plate, tiles: seen?.tiles ?? [] })))
  return light.map((of, i) => {
    const whole = of.map((v) => Float64Array.of(v)) as unknown as Lit
    return field === null ? whole : sumOf(whole, field[i])
  })
}

/** How the light that one donor needs differs from what another does. */
function beyondOf(one: PairLight, other: PairLight): Lit {
  const whole = one.light.map((v, c) => Float64Array.of(v - other.light[c])) as unknown as Lit
  const tiles = one.tiles.flatMap((tile, t): TileLight[] => {
    const same = other.tiles[t]
    if (!tile || !same) return []
    const stops = tile.stops.map((v, c) => v - same.stops[c]) as unknown as TileLight['stops']
    return [{ ...tile, pixels: Math.min(tile.pixels, same.pixels), stops }]
  })
  const count = termsOf([tiles])
  const fit = count === 0 ? null : fitField(tiles, count)
  return fit === null ? whole : sumOf(whole, fit.terms)
}

function even(stops: number): Lit {
  return [0, 1, 2].map(() => Float64Array.of(stops)) as unknown as Lit
}

function sumOf(a: Lit, b: Lit): Lit {
  return a.map((channel, c) => {
    const longer = channel.length > b[c].length ? channel : b[c]
    return longer.map((_, k) => (channel[k] ?? 0) + (b[c][k] ?? 0))
  }) as unknown as Lit
}

/** As a result has it. */
function entryOf(lit: Lit, { x, y, span }: FieldFrame): { gain: Gain; field?: LightFieldEntry } {
  const gain = lit.map(([stops]) => Number((2 ** stops).toFixed(5))) as Gain
  const count = lit[0].length - 1
  if (count === 0) return { gain }
  const terms = Array.from({ length: count }, (_, k) => {
    return lit.map((channel) => Number(channel[k + 1].toFixed(5))) as Gain
  })
  return { gain, field: { x, y, span, stops: terms } }
}
