// Frames that were tracked, hunted for moments of light, best first: all frames of a search, or those that have been read so far.
import type { Plate } from '../../footage/plate.js'
import type { Workspace } from '../../kernels/workspace.js'
import { changedFrom } from '../../match/light-change.js'
import type { Sign } from '../../match/light-law.js'
import { minSpread } from '../../match/min-spread.js'
import { middleValue } from '../../match/selection.js'
import type { Rect } from '../../raster/rect.js'
import { type Offset, shiftOf } from '../../raster/transform.js'
import type { Region } from '../../region/region.js'
import { type FrameKey, keyOf } from '../../shot/frame-key.js'
import type { Shot } from '../../shot/open-shot.js'
import type { TrackedFrame } from '../../track/frame-tracker.js'
import { globalExposures } from '../../track/global-exposure.js'
import type { Followed } from '../../track/plan.js'
import type { Steps, Turns } from '../../turns.js'
import type { EarlyCandidate, Proposed } from '../events.js'
import { type RegisterEffort, register } from '../register.js'
import type { Candidate } from '../result.js'
import { byRank } from '../score.js'
import { BorrowMaker } from './candidate.js'
import { type Measured, measureChanges } from './changes.js'
import { type Look, refineCarry } from './look-in.js'
import { type FoundMoment, findMoments } from './moments.js'
import { knownSoFar, saidSoFar } from './so-far.js'

/** What is hunted for, and where. */
export interface Wanted {
  readonly there: Look
  /** Target frame on which the change is to be strongest. */
  readonly peak: number
  readonly sign: Sign | undefined
  readonly like: FrameKey | null
  /** What is kept of a frame. */
  readonly keep: Rect
}

/** What is hunted in: frames that were read, in order; their pictures are written over. */
export interface Seen extends Followed {
  readonly frames: readonly TrackedFrame[]
}

export interface Hunted {
  /** Best first. */
  readonly candidates: Candidate[]
  readonly carry: Offset
  readonly warnings: string[]
}

/** Least length of an empty hunt's strongest change that is worth a word, stops: below it there is only grain. */
const NOTHING_STOPS = 1e-4
/** A shadow of so much is plain to see, stops: where none is told from how the light changes by itself, that is said. */
const PLAIN_STOPS = 0.25

/** All frames of a shot. */
export async function* hunt(
  workspace: Workspace,
  shot: Shot,
  seen: Seen,
  wanted: Wanted,
  turns: Turns,
): AsyncGenerator<Proposed, Hunted> {
  const { measured, maker, carry, refined } = await prepared(workspace, shot, seen, wanted, turns)
  const warnings: string[] = []
  if (wanted.there.refine && !refined)
    warnings.push('the two surfaces share no structure to align by: the 2D offset lays middle on middle')
  warnings.push(...unsteady(measured))
  const candidates: Candidate[] = []
  for (const { plate, moment } of momentsOf(measured, shot.donors, wanted.sign)) {
    const made = await turns.run(maker.candidate(plate, moment))
    if (typeof made === 'string') warnings.push(made)
    else {
      candidates.push(made)
      const rank = 1 + candidates.filter((c) => c.score > made.score).length
      yield { kind: 'candidate', candidate: made, rank }
    }
    await turns.pause()
  }
  if (candidates.length === 0) warnings.push(nothing(measured, shot.donors, wanted.sign))
  return { candidates: ranked(candidates), carry, warnings }
}

/** How little is done before all frames are there: light from fewer pixels, of all channels together, a clean plate of fewer frames. */
const EARLY: RegisterEffort = { lightPixels: 1500, emptyFrames: 24 }
/** Moments that are measured then, the strongest of each plate. */
const EARLY_MOMENTS = 12

/**
 * What is there so far, by the same numbers. A moment's course between two frames that were read is taken to lie on a line;
 * what of it is not known yet is said in its reason, and where its peak may still lie beside it.
 *
 * @param seen some of the frames, with one target frame at least
 */
export async function huntEarly(
  workspace: Workspace,
  shot: Shot,
  seen: Seen,
  wanted: Wanted,
  turns: Turns,
): Promise<EarlyCandidate[]> {
  const isSeen = new Set(seen.frames.map(keyOf))
  // Everything is laid on it.
  if (!isSeen.has(keyOf(seen.reference))) return []
  const { measured, maker } = await prepared(workspace, shot, seen, wanted, turns, EARLY)
  const candidates: EarlyCandidate[] = []
  const strongest = [...momentsOf(measured, shot.donors, wanted.sign)]
    .sort((a, b) => b.moment.strength - a.moment.strength)
    .slice(0, EARLY_MOMENTS)
  for (const { plate, moment } of strongest) {
    const known = knownSoFar(
      moment,
      (frame) => isSeen.has(keyOf({ plate, frame })),
      shot.plates[plate].frames,
    )
    const made = await turns.run(maker.candidate(plate, known.moment, (frame) => !isSeen.has(keyOf(frame))))
    if (typeof made !== 'string') candidates.push(saidSoFar(made, known))
    await turns.pause()
  }
  return ranked(candidates)
}

async function prepared(
  workspace: Workspace,
  { plates, frames, donors, region, reach }: Shot,
  seen: Seen,
  { there, peak, like, keep }: Wanted,
  turns: Turns,
  effort?: RegisterEffort,
): Promise<{ measured: Measured; maker: BorrowMaker; carry: Offset; refined: boolean }> {
  const [target] = plates
  const measured = await turns.run(measure(workspace, seen, there.region, target, effort))
  const at = measured.registration.frames.find((f) => keyOf(f) === keyOf(seen.reference))!
  const { carry, refined } = there.refine
    ? await refineCarry(
        workspace,
        there,
        region,
        measured.registration.cleanPlate.level,
        target,
        at.frame,
        shiftOf(at.pose, there.region.window),
        {
          reachPx: reach,
          clip: target.clipLevel,
        },
      )
    : { carry: there.carry, refined: false }
  const lenders = new Set(donors.map(keyOf))
  const maker = new BorrowMaker({
    workspace,
    measured,
    seen: seen.frames,
    rect: keep,
    region: there.region,
    lentTo: region,
    pictures: plates.map((plate) => plate.active),
    frames,
    peak,
    carry,
    like,
    reach,
    mayLend: (frame) => lenders.has(keyOf(frame)),
  })
  return { measured, maker, carry, refined }
}

function* measure(
  workspace: Workspace,
  { frames: seen, reference, holds }: Seen,
  { window, frames }: Region,
  { bitDepth, encoding }: Plate,
  effort?: RegisterEffort,
): Steps<Measured> {
  const lights = yield* globalExposures(
    workspace,
    seen.map(({ plate, frame, lit }) => ({ plate, frame, band: lit!.band })),
    effort === undefined ? 'each' : 'together',
  )
  const everywhere = new Float32Array(window.w * window.h).fill(1)
  const registered = yield* register(
    workspace,
    seen,
    {
      window,
      surround: everywhere,
      reference,
      hidden: () => null,
      minSpreadAt: (log2Level) => minSpread(log2Level, bitDepth, encoding),
      mayHold: holds,
    },
    effort,
  )
  return yield* measureChanges(
    workspace,
    registered,
    lights,
    frames.get(reference.frame)!.inside,
    effort?.emptyFrames,
  )
}

/** Plate by plate, each in order of its frames. */
function* momentsOf(
  measured: Measured,
  donors: readonly FrameKey[],
  sign: Sign | undefined,
): Generator<{ plate: number; moment: FoundMoment }> {
  for (const plate of new Set(donors.map((k) => k.plate))) {
    const frames = donors
      .filter((k) => k.plate === plate)
      .flatMap((k) => measured.changes.get(keyOf(k)) ?? [])
    for (const moment of findMoments(frames, measured.reference, measured.grid))
      if (sign === undefined || moment.sign === sign) yield { plate, moment }
  }
}

/** That plain shadows may be there which nothing tells, where the surface's light is never at rest. */
function unsteady({ grid, reference }: Measured): string[] {
  const least = [...grid.weight.keys()]
    .filter((tile) => grid.weight[tile] > 0)
    .map((tile) => changedFrom(reference, tile))
  const middle = middleValue(least)
  if (middle < PLAIN_STOPS) return []
  return [
    `the light on the surface is never at rest (mains light, clouds, leaves, water): a change below ${middle.toFixed(1)} stops can't be told from that`,
  ]
}

/** Why there is nothing to borrow. */
function nothing(measured: Measured, donors: readonly FrameKey[], sign: Sign | undefined): string {
  let strongest = { frame: donors[0].frame, stops: 0, sign: 'darker' as Sign }
  for (const { plate, frame } of donors) {
    const change = measured.changes.get(keyOf({ plate, frame }))
    for (const s of ['darker', 'brighter'] as const)
      if (change && change[s] > strongest.stops && (sign ?? s) === s)
        strongest = { frame, stops: change[s], sign: s }
  }
  const what = sign === undefined ? 'no change of light' : `nothing that gets ${sign}`
  const seen =
    strongest.stops > NOTHING_STOPS
      ? `the strongest is ${strongest.stops.toFixed(3)} stops ${strongest.sign} over the region, on frame ${strongest.frame}`
      : 'nothing rises above grain on any frame'
  return `${what} to borrow: ${seen}`
}

function ranked<C extends Candidate>(candidates: C[]): C[] {
  return eachOnce(candidates.sort((a, b) => byRank(a, b) || a.id.localeCompare(b.id)))
}

/** Two changes with one peak are one run, which lifts both: the better tells of it. Of what is no light, each thing once. */
function eachOnce<C extends Candidate>(candidates: readonly C[]): C[] {
  const out: C[] = []
  for (const candidate of candidates) {
    const { id, moment: m } = candidate
    const isListed = out.some(
      ({ id: other, moment: o }) =>
        other === id ||
        (m!.what === 'object' &&
          o!.what === 'object' &&
          m!.donor === o!.donor &&
          m!.peak >= o!.start &&
          m!.peak <= o!.end),
    )
    if (!isListed) out.push(candidate)
  }
  return out
}
