// Frames that were tracked, combined into the match matrix, and what can be read off it, best first: of all frames, or of
// those that have been read so far.
import type { Workspace } from '../../kernels/workspace.js'
import { visibleSpread } from '../../match/clean.js'
import { minSpread } from '../../match/min-spread.js'
import { type FrameKey, keyOf } from '../../shot/frame-key.js'
import type { Shot } from '../../shot/open-shot.js'
import type { TrackedFrame } from '../../track/frame-tracker.js'
import { inWords, type Turns } from '../../turns.js'
import type { Proposed, Ranking, Row } from '../events.js'
import { type Draft, Measurer } from '../measure.js'
import { cameraDoubt, type Registered, type Registration, register } from '../register.js'
import type { Candidate, Cut } from '../result.js'
import { byRank } from '../score.js'
import { type Asked, askedDraft, withAsked } from './asked.js'
import { cutsOf, cutWords } from './cut-mask.js'
import { holds, mirrors, relays, runs, stacks } from './drafts.js'
import { groupSimilar } from './group-similar.js'
import { type Known, knownOf, knownToShow } from './known.js'
import { withoutWhoStays } from './lingering.js'
import { type Matrix, matchMatrix } from './matrix.js'
import { earlyPicture } from './matrix-picture.js'
import { mosaics } from './mosaic.js'
import type { OtherColourOf } from './other-colour.js'
import { type NextToTarget, type RegionState, regionState } from './region-state.js'
import { sameShare } from './shown-share.js'
import { targetState } from './target-state.js'
import { WhatShows } from './what-shows.js'

export interface Wanted {
  readonly keep: number
  readonly asked: readonly Asked[]
  /** Why nothing holds up without a look, whatever else is found; null: nothing is known against it. */
  readonly doubt: string | null
  readonly emptyAsUsual: boolean
}

/** What is ranked: frames that were read, in order; their pictures are written over. */
export interface Tracked {
  readonly frames: readonly TrackedFrame[]
  /** False where nothing in the whole picture would tell that the camera moved. */
  readonly holds: boolean
}

export interface Ranked {
  readonly kept: Candidate[]
  readonly matrix: Matrix
  /** The part of the matrix of who may lend. */
  readonly lending: Matrix
  readonly warnings: string[]
  readonly cuts: Cut[]
  /** The mosaic made anew without what shows another colour; null: there is none. */
  readonly mosaicWithout: (otherColour: OtherColourOf) => Promise<Candidate | null>
}

/** Drafts that are worth measuring: the best of each kind. */
const MEASURED_OF_A_KIND = 40

/** All frames of a shot. */
export async function* rank(
  workspace: Workspace,
  shot: Shot,
  tracked: Tracked,
  wanted: Wanted,
  turns: Turns,
): AsyncGenerator<Row | Proposed, Ranked> {
  const { region } = shot
  const { keep, asked } = wanted
  const compared = yield* compare(workspace, shot, tracked, wanted, turns)
  const { registration, targets, known, state, matrix, lending } = compared
  const measuring = new Measuring(workspace, shot, compared, turns)
  const inState = { ...registration, cleanPlate: state.cleanPlate }
  const together = await turns.run(mosaics(workspace, inState, region, lending, sidesOf(compared)))
  const candidates = await measuring.all([
    ...singles(lending, MEASURED_OF_A_KIND),
    ...stacks(lending),
    ...together,
  ])
  const warnings = [state.unknown ?? state.doubt ?? [], ...state.notes].flat()
  const { level } = state.cleanPlate
  const shown = visibleSpread(level, known.spread)
  const cuts = await turns.run(cutsOf(workspace, registration, region, targets, level, shown))
  warnings.push(...cuts.map(cutWords))
  if (candidates.length === 0) warnings.push(nobodyLends(shot))
  else if (!known.model.taught)
    warnings.push(
      'too few frames show the region with nobody in front to learn from: what is expected inside it comes from other plates, and may be further off',
    )
  const named: Candidate[] = []
  for (const one of asked) {
    const draft = askedDraft(one, matrix, registration.frames)
    if (typeof draft === 'string') warnings.push(draft)
    else named.push(candidates.find((c) => c.id === one.id) ?? (await measuring.one(draft)))
  }
  const shows = new WhatShows(workspace, region, known, matrix)
  const rows = withAsked(groupSimilar(candidates, lending).slice(0, keep), named).map((candidate) => {
    return { candidate, draft: measuring.drafts.get(candidate.id)! }
  })
  const words = await turns.run(shows.of(rows))
  const kept = rows.map(({ candidate, draft }, i) => measuring.explained(candidate, draft, words[i]))
  for (const [i, candidate] of kept.entries()) yield { kind: 'candidate', candidate, rank: i + 1 }
  const mosaicWithout = async (otherColour: OtherColourOf) => {
    const sides = sidesOf(compared)
    const [draft] = await turns.run(mosaics(workspace, inState, region, lending, sides, otherColour))
    if (draft === undefined) return null
    const candidate = await measuring.one(draft)
    const [words] = await turns.run(shows.of([{ candidate, draft }]))
    return measuring.explained(candidate, draft, words)
  }
  return { kept, matrix, lending, warnings, cuts, mosaicWithout }
}

/** How little is done before all frames are there: no pretended targets, a frame's light from fewer pixels. */
const EARLY: Effort = { lessons: 0, lightPixels: 1500 }
/** Drafts that are measured then, of each kind. */
const EARLY_OF_A_KIND = 4

/**
 * The ranking of what is there so far, by the same numbers from fewer of everything: a few drafts of each kind, no stacks
 * (before the plate has taught which donors agree, the mean of several lost up to 11 dB on the plaza) and no mosaics, its
 * faults in the words of the table. Light is what the surround's stops say, the same in every channel.
 *
 * @param tracked with one target frame at least
 */
export async function rankEarly(
  workspace: Workspace,
  shot: Shot,
  tracked: Tracked,
  wanted: Wanted,
  turns: Turns,
): Promise<Pick<Ranking, 'candidates' | 'matrix'>> {
  const comparing = compare(workspace, shot, tracked, { ...wanted, asked: [] }, turns, EARLY)
  let compared = await comparing.next()
  while (!compared.done) compared = await comparing.next()
  const { lending } = compared.value
  const measuring = new Measuring(workspace, shot, compared.value, turns)
  const candidates = await measuring.all(singles(lending, EARLY_OF_A_KIND))
  return {
    candidates: groupSimilar(candidates, lending).slice(0, wanted.keep).map(withEvenLight),
    matrix: earlyPicture(lending, shot),
  }
}

/** Frames just before the middle target frame whose region is empty, and just after it. */
function sidesOf({ known, targets }: Compared): Registered[][] {
  const { frames } = known.features.view
  const isTarget = new Set(targets)
  const middle = frames.indexOf(targets[targets.length >> 1])
  const { before, after } = known.features.sides(middle, (i) => isTarget.has(frames[i]))
  return [before, after].map((side) => side.map((i) => frames[i]))
}

interface Compared {
  readonly registration: Registration
  readonly targets: readonly Registered[]
  readonly known: Known
  readonly state: RegionState & { readonly notes: readonly string[] }
  readonly matrix: Matrix
  readonly lending: Matrix
  readonly noiseOf: (f: FrameKey) => number | null
}

/** Left out: as much as makes a difference. */
interface Effort {
  /** Most pretended targets. */
  readonly lessons?: number
  /** Most pixels of the surround that a frame's light is taken from. */
  readonly lightPixels?: number
}

async function* compare(
  workspace: Workspace,
  { plates, frames, donors: donorKeys, region, reach }: Shot,
  { frames: seen, holds: mayHold }: Tracked,
  { asked, doubt: unsure, emptyAsUsual }: Wanted,
  turns: Turns,
  { lessons, lightPixels }: Effort = {},
): AsyncGenerator<Row, Compared> {
  const { bitDepth, encoding } = plates[0]
  const middle = frames[frames.length >> 1]
  const noises = new Map(seen.map((f) => [keyOf(f), f.noise]))
  const noiseOf = (f: FrameKey) => noises.get(keyOf(f)) ?? null
  const registered = await turns.run(
    register(
      workspace,
      seen,
      {
        window: region.window,
        surround: region.frames.get(middle)!.surround,
        reference: { plate: 0, frame: middle },
        hidden: ({ plate, frame }) => (plate === 0 ? (region.frames.get(frame)?.inside ?? null) : null),
        minSpreadAt: (log2Level) => minSpread(log2Level, bitDepth, encoding),
        mayHold,
        laid: new Set(plates.flatMap(({ laid }, i) => (laid === undefined ? [] : [i]))),
      },
      { lightPixels },
    ),
  )
  const isDonor = new Set(donorKeys.map(keyOf))
  const isTarget = new Set(frames)
  const targets = registered.frames.filter((f) => f.plate === 0 && isTarget.has(f.frame))
  const own = emptyAsUsual ? null : await turns.run(targetState(workspace, registered, region, targets))
  const registration = own?.registration ?? registered
  const donors = registration.frames.filter((f) => isDonor.has(keyOf(f)))
  // Who is asked for by name is measured beside those that may lend, and lends to nothing else.
  const isAsked = new Set(asked.flatMap((one) => targets.map((t) => keyOf(one.donorOf(t.frame)))))
  const beside = registration.frames.filter((f) => isAsked.has(keyOf(f)) && !isDonor.has(keyOf(f)))
  const columns = [...donors, ...beside]
  const learnt = await turns.run(knownOf(workspace, registration, region, targets, noiseOf, lessons))
  const [{ cleanPlate }] = learnt.states
  const found = emptyAsUsual
    ? { cleanPlate, unknown: null, doubt: null }
    : ((await turns.run(withoutWhoStays(workspace, learnt, region, targets))) ??
      (await turns.run(
        regionState(workspace, { ...registration, cleanPlate }, region, targets, nextTo(learnt, targets)),
      )))
  // What the target itself shows is the very thing that must go: then its surroundings in time say nothing.
  const known =
    found.cleanPlate === cleanPlate
      ? learnt
      : await turns.run(knownToShow(learnt, found.cleanPlate, targets, noiseOf, lessons))
  const camera = cameraDoubt(registration, known.model.taught)
  const state = {
    ...found,
    doubt: found.doubt ?? unsure ?? camera.doubt,
    notes: [own?.note ?? [], camera.note ?? []].flat(),
  }
  const across: FrameKey[] = columns.map(({ plate, frame }) => ({ plate, frame }))
  const comparing = turns.heard(matchMatrix(workspace, known, region, targets, columns, reach))
  const matrix = yield* inWords(comparing, (row) => ({ kind: 'row' as const, donors: across, ...row }))
  return { registration, targets, known, state, matrix, lending: { ...matrix, donors }, noiseOf }
}

/** What is seen next to the middle target frame. */
function nextTo({ features, states }: Known, targets: readonly Registered[]): NextToTarget {
  const { view } = features
  const isTarget = new Set(targets)
  const middle = view.frames.indexOf(targets[targets.length >> 1])
  const { before, after } = features.around(middle, (i) => isTarget.has(view.frames[i]))
  const [one, two] = [view.middleOf(before), view.middleOf(after)]
  return {
    pictures: states.map(({ cleanPlate }) => cleanPlate),
    drift: one && two ? 1 - sameShare(view, one, two) : 0,
  }
}

/** Drafts made into candidates. */
class Measuring {
  readonly drafts = new Map<string, Draft>()
  readonly #measurer: Measurer

  constructor(
    workspace: Workspace,
    { region }: Shot,
    readonly compared: Compared,
    readonly turns: Turns,
  ) {
    const { matrix, noiseOf, state } = compared
    this.#measurer = new Measurer(workspace, region, matrix, noiseOf, state, matrix.expected)
  }

  /** Best first. */
  async all(drafts: readonly Draft[]): Promise<Candidate[]> {
    const candidates: Candidate[] = []
    for (const draft of drafts) {
      candidates.push(await this.one(draft))
      await this.turns.pause()
    }
    return candidates.sort(byRank)
  }

  one(draft: Draft): Promise<Candidate> {
    this.drafts.set(draft.id, draft)
    return this.turns.run(this.#measurer.candidate(draft, this.#doubt(draft)))
  }

  /** The candidate with its reasons in words of what will be seen. */
  explained(candidate: Candidate, draft: Draft, words: Parameters<Measurer['explained']>[2]): Candidate {
    return this.#measurer.explained(candidate, this.#doubt(draft), words)
  }

  #doubt(draft: Draft): string | null {
    const { state, matrix, known } = this.compared
    return state.doubt ?? doubtOf(draft, matrix, known)
  }
}

/** Where the region looks another way before the target than after it: which of both a draft shows. */
function doubtOf({ shares }: Draft, matrix: Matrix, { states }: Known): string | null {
  if (states.length < 2) return null
  const [first, last] = [matrix.targets[0].frame, matrix.targets[matrix.targets.length - 1].frame]
  const shown = new Set(shares.flatMap((row) => row.map(({ column }) => matrix.stateOf(column))))
  const differs = `the region looks one way before ${first} and another after ${last}`
  if (shown.size > 1) return `${differs}, and this changes from one to the other`
  return `${differs}: this shows it as it is ${shown.has(0) ? `before ${first}` : `after ${last}`}`
}

/** Drafts with one donor per target frame. @param most of each kind */
function singles(matrix: Matrix, most: number): Draft[] {
  const cheapest = (drafts: Draft[]) => drafts.sort((a, b) => a.cost - b.cost).slice(0, most)
  return [
    ...cheapest(holds(matrix)),
    ...cheapest(runs(matrix)),
    ...cheapest(mirrors(matrix)),
    ...relays(matrix),
  ]
}

function withEvenLight(candidate: Candidate): Candidate {
  const frames = candidate.frames.map((match) => ({ ...match, gain: evenGain(match.stops) }))
  return { ...candidate, frames }
}

function evenGain(stops: number | null): [number, number, number] {
  const factor = Number((2 ** (stops ?? 0)).toFixed(5))
  return [factor, factor, factor]
}

/** Why there is no candidate at all, and what to do. */
function nobodyLends({ plates: [target], frames, donors }: Shot): string {
  const asked = new Set(frames)
  const alone = donors.every(({ plate, frame }) => plate === 0 && asked.has(frame))
  const nobody = 'no frame of the donor plates can fill the whole range'
  if (!alone) return `${nobody}: ask for a part of it, or add another plate as a donor`
  const none = `${nobody}: ${target.name} has no frame that may lend besides the target's own`
  const others = target.frames.some((frame) => !asked.has(frame))
  return others
    ? `${none}; let more of its frames lend, or add another plate as a donor`
    : `${none}; add another plate as a donor`
}
