// The light of the candidates that are kept, channel by channel: a gain, and where the light differs over the region a field;
// and whether it falls on the region's own colour.

import { type FieldFrame, type FittedField, fitField, type TileLight } from '../../match/light-field.js'
import { type FrameKey, keyOf } from '../../shot/frame-key.js'
import type { Candidate, FrameMatch, LightFieldEntry } from '../result.js'
import { withoutOtherColour } from './other-colour.js'
import { fieldFrame, type LightJob, type Measuring, measureLight, type PairLight } from './pair-light.js'
import { RegionColours } from './region-colours.js'
import { steadyExposure } from './steady-exposure.js'
import { steadyField, termsOf } from './steady-field.js'

/** Linear-light factor per channel that brings a donor to a target. */
type Gain = [number, number, number]

/** Stops per channel: first the constant, then the terms of a field, if there is one. */
type Lit = FittedField['terms']

/**
 * The candidates with their light measured and what shows another colour told, best first.
 *
 * @throws FRAME_UNREADABLE where a frame has gone since the search
 */
export async function* withGains(
  candidates: readonly Candidate[],
  job: LightJob,
): AsyncGenerator<Measuring, Candidate[]> {
  const { matrix, region } = job
  const { targets } = matrix
  const middle = targets[targets.length >> 1].frame
  const pairs = new Map<string, { target: number; plate: number; donor: number }>()
  const want = (target: number, plate: number, donor: number) =>
    pairs.set(`${target} ${plate} ${donor}`, { target, plate, donor })
  const leads = new Map(candidates.map((c) => [c, leadsOf(c)]))
  for (const candidate of candidates) {
    for (const [i, { target, plate, donor, stack, pieces }] of candidate.frames.entries()) {
      const lead = leads.get(candidate)![i]
      want(target, lead?.plate ?? plate, lead?.frame ?? donor)
      const shares = stack ?? pieces
      if (!shares) continue
      if (candidate.kind === 'relay') {
        for (const share of shares) want(target, share.plate, share.frame)
        continue
      }
      want(middle, plate, donor)
      for (const share of shares) want(middle, share.plate, share.frame)
    }
  }
  const colours = new RegionColours(region, matrix)
  for (const { plate, frame } of colours.witnesses) want(middle, plate, frame)
  for (const { plate, donor } of [...pairs.values()]) want(middle, plate, donor)
  const found = yield* measureLight([...pairs.values()], job, colours)
  const lightOf = (target: number, plate: number, donor: number) =>
    found.get(`${target} ${plate} ${donor}`) ?? null
  const common = new Map([...matrix.donors, ...targets].map((f) => [keyOf(f), f.exposure]))
  const origin = fieldFrame(region)
  // What one donor needs beyond another is the same for all frames.
  const apart = new Map<string, Lit>()
  const beyondLead = (share: FrameKey, lead: FrameKey): Lit => {
    const key = `${keyOf(share)} ${keyOf(lead)}`
    let known = apart.get(key)
    if (known === undefined) {
      const [there, led] = [share, lead].map((of) => lightOf(middle, of.plate, of.frame))
      known = there && led ? beyondOf(there, led) : even(common.get(keyOf(share))! - common.get(keyOf(lead))!)
      apart.set(key, known)
    }
    return known
  }
  const stopsOf = (target: number, donor: FrameKey) => {
    const t = targets.findIndex(({ frame }) => frame === target)
    return matrix.pair(
      t,
      matrix.donors.findIndex((d) => keyOf(d) === keyOf(donor)),
    ).stops
  }
  const broughtTo = ({ target, plate, donor, stops }: FrameMatch, from: FrameKey): Brought => {
    const same = from.frame === donor && from.plate === plate
    return {
      ...from,
      stops: same ? stops : stopsOf(target, from),
      seen: lightOf(target, from.plate, from.frame),
    }
  }
  // Of both donors of a dissolve the light is told on each of its frames: passed on from one to the other it would jump where they meet.
  const relayed = (candidate: Candidate): Candidate => {
    const donorOf = ({ plate, donor, stack }: FrameMatch, k: 0 | 1): FrameKey =>
      stack?.[k] ?? { plate, frame: donor }
    const [light, other] = ([0, 1] as const).map((k) =>
      overTime(candidate.frames.map((match) => broughtTo(match, donorOf(match, k)))),
    )
    const frames = candidate.frames.map((match, i) => {
      const entries = [light[i], other[i]].map((of) => entryOf(of, origin))
      const stack = match.stack?.map((share, k) => ({ ...share, ...entries[k] }))
      const isOwn = keyOf(donorOf(match, 0)) === keyOf({ plate: match.plate, frame: match.donor })
      return { ...match, ...entries[isOwn ? 0 : 1], ...(stack ? { stack } : {}) }
    })
    return { ...candidate, frames }
  }
  const lit = candidates.map((candidate) => {
    if (candidate.kind === 'relay') return relayed(candidate)
    const led = leads.get(candidate)!
    const light = overTime(
      candidate.frames.map((match, i) =>
        broughtTo(match, led[i] ?? { plate: match.plate, frame: match.donor }),
      ),
    )
    const frames = candidate.frames.map((match, i) => {
      const shares = match.stack ?? match.pieces
      const lead = led[i]
      if (!shares || lead === null) return { ...match, ...entryOf(light[i], origin) }
      // The donors of a stack or mosaic are brought to the middle frame, and with it to each: light is passed on, not measured anew.
      const entryFor = (share: FrameKey) => entryOf(sumOf(light[i], beyondLead(share, lead)), origin)
      const brought = shares.map((share) => ({ ...share, ...entryFor(share) }))
      return {
        ...match,
        ...entryFor({ plate: match.plate, frame: match.donor }),
        ...(match.stack ? { stack: brought } : { pieces: brought }),
      }
    })
    return { ...candidate, frames }
  })
  const otherwise = colours.otherwise(({ plate, frame }) => lightOf(middle, plate, frame)?.light ?? null)
  return withoutOtherColour(lit, { tileAt: colours.tileAt, otherwise }, region, matrix)
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
