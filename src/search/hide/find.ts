// The aim `hide`: which frames can lend the region over the target range, best first.
import { inWorkspace, type Workspace } from '../../kernels/workspace.js'
import { visibleSpread } from '../../match/clean.js'
import { minSpread } from '../../match/min-spread.js'
import type { OnProgress } from '../../progress.js'
import { type FrameKey, keyOf } from '../../shot/frame-key.js'
import { openShot, type Shot, type ShotRequest } from '../../shot/open-shot.js'
import { keepOf } from '../../shot/validate.js'
import { planOf, type TrackedShot, trackShot } from '../../track/plan.js'
import { inWords, Turns, untilAborted } from '../../turns.js'
import {
  type Proposed,
  planned,
  type Row,
  resultOf,
  type SearchEvent,
  type SearchOptions,
  tracked,
} from '../events.js'
import { fingerprintsOf } from '../fingerprints.js'
import { cameraEntry, cutsInPlateTerms, inPlateTerms, laidShot } from '../laid-shot.js'
import { type Draft, Measurer } from '../measure.js'
import { cameraDoubt, register } from '../register.js'
import type { Candidate, Cut, Result } from '../result.js'
import { resultHead, shotNotes } from '../result-head.js'
import { byRank } from '../score.js'
import { type Asked, askedDraft, askedOf, withAsked } from './asked.js'
import { cutsOf, cutWords } from './cut-mask.js'
import { holds, mirrors, relays, runs, stacks } from './drafts.js'
import { withGains } from './gains.js'
import { groupSimilar } from './group-similar.js'
import { type Known, knownOf, knownToShow } from './known.js'
import { type Matrix, matchMatrix } from './matrix.js'
import { mosaics } from './mosaic.js'
import { among, ofPlate, otherPlaces, placeDoubt } from './other-places.js'
import { regionState } from './region-state.js'
import { WhatShows } from './what-shows.js'

export interface HideOptions extends SearchOptions {
  /** Candidates to measure whatever comes of them, by name: `hold-1215`, `run+46`, `mirror-2251`. */
  readonly tries?: readonly string[]
  /**
   * What most frames show in the region is empty, even where the target shows it, too: it may have nobody in front.
   * Default: false, as something is to be hidden.
   */
  readonly emptyAsUsual?: boolean
}

/**
 * Searches a shot for donors. Writes nothing.
 *
 * @returns what it learns as it learns it; the last event has what `result.json` holds
 * @throws FRAMES_UNREADABLE, FRAME_SIZE, FRAME_DEPTH, MISUSE (`keep`), as askedOf; the abort reason when `signal` fires
 */
export function hide(shot: Shot, options: HideOptions = {}): AsyncGenerator<SearchEvent, void> {
  return inWorkspace((workspace) => hideIn(workspace, shot, options))
}

async function* hideIn(
  workspace: Workspace,
  asShot: Shot,
  { keep: most, tries = [], emptyAsUsual = false, signal }: HideOptions,
): AsyncGenerator<SearchEvent, void> {
  const keep = keepOf(most)
  const asked = askedOf(tries, asShot)
  const laid = yield* laidShot(workspace, asShot, signal)
  const turns = new Turns(signal)
  const here = laid?.shot ?? asShot
  const doubt = laid?.doubt ?? null
  const own = yield* searched(workspace, here, { keep, asked, doubt, emptyAsUsual }, turns)
  const places = asShot.request.reach === 'anywhere' ? await otherPlaces(workspace, asShot, laid) : []
  const elsewhere: Candidate[][] = []
  for (const { shot, place } of places) {
    const found = yield* searched(
      workspace,
      shot,
      { keep, asked: [], doubt: placeDoubt(place), emptyAsUsual },
      turns,
    )
    const named = found.candidates.map((c) => ofPlate(c, shot.plates.length))
    elsewhere.push(named.map((c) => inPlateTerms(c, shot, laid?.camera ?? null)))
  }
  const inTheirs = laid ? own.candidates.map((c) => inPlateTerms(c, laid.shot, laid.camera)) : own.candidates
  const about: Shot = {
    ...asShot,
    plates: [asShot.plates[0], ...asShot.plates.slice(1), ...places.map(() => asShot.plates[0])],
  }
  const head = resultHead(about, [...asShot.plates.map(() => null), ...places.map(({ place }) => place)])
  const result: Result = {
    schema: 'offcut.result/1',
    aim: 'hide',
    ...head.about,
    ...head.hunted,
    ...(asShot.request.reach === 'anywhere' ? { anywhere: true as const } : {}),
    ...(laid ? { camera: cameraEntry(laid.camera) } : {}),
    warnings: [...shotNotes(asShot, own.seen.unreadable), ...(laid?.notes ?? []), ...own.warnings],
    ...(own.cuts.length === 0 ? {} : { cuts: laid ? cutsInPlateTerms(own.cuts, laid) : own.cuts }),
    matrix: pictureOf(own.lending),
    candidates: places.length === 0 ? inTheirs : among(inTheirs, elsewhere, keep),
  }
  const fingerprints = await fingerprintsOf(result, about.plates, asShot.masks)
  yield { kind: 'done', result: { ...result, fingerprints } }
}

interface Wanted {
  readonly keep: number
  readonly asked: readonly Asked[]
  /** Why nothing holds up without a look, whatever else is found; null: nothing is known against it. */
  readonly doubt: string | null
  readonly emptyAsUsual: boolean
}

/** Frames read, compared, ranked, and their light measured. */
async function* searched(workspace: Workspace, shot: Shot, wanted: Wanted, turns: Turns) {
  const { plates, frames, region } = shot
  const { signal } = turns
  const middle = frames[frames.length >> 1]
  const plan = planOf(shot, { window: region.window, wanted: middle })
  yield planned(shot, plan)
  const read = trackShot(workspace, shot, plan, (frame) => region.frames.get(frame)!, { signal })
  const seen = yield* inWords(untilAborted(read, signal), tracked)
  const { kept, matrix, ...rest } = yield* rank(workspace, shot, seen, wanted, turns)
  const measuring = withGains(kept, { plates, rect: plan.keep, region, matrix })
  const candidates = yield* inWords(untilAborted(measuring, signal), ({ done, total }) => {
    return { kind: 'measured' as const, done, total }
  })
  return { seen, candidates, ...rest }
}

export interface FindOptions extends ShotRequest, HideOptions {
  readonly onProgress?: OnProgress
}

/** Opens the shot, searches to the end and returns what `result.json` holds. @throws as openShot and hide */
export async function findDonors({
  onProgress,
  keep,
  tries,
  signal,
  ...request
}: FindOptions): Promise<Result> {
  return resultOf(hide(await openShot(request), { keep, tries, signal }), onProgress)
}

/** All frames combined into the match matrix, and what can be read off it, best first. */
async function* rank(
  workspace: Workspace,
  { plates, frames, donors: donorKeys, region, reach }: Shot,
  { frames: seen, holds: held }: TrackedShot,
  { keep, asked, doubt: unsure, emptyAsUsual }: Wanted,
  turns: Turns,
): AsyncGenerator<
  Row | Proposed,
  { kept: Candidate[]; matrix: Matrix; lending: Matrix; warnings: string[]; cuts: Cut[] }
> {
  const { bitDepth, encoding } = plates[0]
  const middle = frames[frames.length >> 1]
  const noises = new Map(seen.map((f) => [keyOf(f), f.noise]))
  const noiseOf = (f: FrameKey) => noises.get(keyOf(f)) ?? null
  const registration = await turns.run(
    register(
      workspace,
      seen,
      region.window,
      region.frames.get(middle)!.surround,
      { plate: 0, frame: middle },
      ({ plate, frame }) => (plate === 0 ? (region.frames.get(frame)?.inside ?? null) : null),
      (log2Level) => minSpread(log2Level, bitDepth, encoding),
      held,
      new Set(plates.flatMap(({ laid }, i) => (laid === undefined ? [] : [i]))),
    ),
  )
  const isDonor = new Set(donorKeys.map(keyOf))
  const isTarget = new Set(frames)
  const targets = registration.frames.filter((f) => f.plate === 0 && isTarget.has(f.frame))
  const donors = registration.frames.filter((f) => isDonor.has(keyOf(f)))
  // Who is asked for by name is measured beside those that may lend, and lends to nothing else.
  const isAsked = new Set(asked.flatMap((one) => targets.map((t) => keyOf(one.donorOf(t.frame)))))
  const beside = registration.frames.filter((f) => isAsked.has(keyOf(f)) && !isDonor.has(keyOf(f)))
  const columns = [...donors, ...beside]
  const learnt = await turns.run(knownOf(workspace, registration, region, targets, noiseOf))
  const [{ cleanPlate }] = learnt.states
  const found = emptyAsUsual
    ? { cleanPlate, unknown: null, doubt: null }
    : await turns.run(regionState(workspace, { ...registration, cleanPlate }, region, targets))
  const state = { ...found, doubt: found.doubt ?? unsure ?? cameraDoubt(registration) }
  // What the target itself shows is the very thing that must go: then its surroundings in time say nothing.
  const known =
    state.cleanPlate === cleanPlate
      ? learnt
      : await turns.run(knownToShow(learnt, state.cleanPlate, targets, noiseOf))
  const across: FrameKey[] = columns.map(({ plate, frame }) => ({ plate, frame }))
  const comparing = turns.heard(matchMatrix(workspace, known, region, targets, columns, reach))
  const matrix = yield* inWords(comparing, (row) => ({ kind: 'row' as const, donors: across, ...row }))
  const lending: Matrix = { ...matrix, donors }
  const measurer = new Measurer(workspace, region, matrix, noiseOf, state, matrix.expected)
  const candidates: Candidate[] = []
  const drafts = new Map<string, Draft>()
  const doubt = (draft: Draft) => state.doubt ?? doubtOf(draft, matrix, known)
  const measured = (draft: Draft) => {
    drafts.set(draft.id, draft)
    return turns.run(measurer.candidate(draft, doubt(draft)))
  }
  const inState = { ...registration, cleanPlate: state.cleanPlate }
  const together = await turns.run(mosaics(workspace, inState, region, lending))
  for (const draft of [...shortList(lending), ...together]) {
    candidates.push(await measured(draft))
    await turns.pause()
  }
  candidates.sort(byRank)
  const warnings = [state.unknown ?? state.doubt ?? []].flat()
  const { level } = state.cleanPlate
  const shown = visibleSpread(level, known.spread)
  const cuts = await turns.run(cutsOf(workspace, registration, region, targets, level, shown))
  warnings.push(...cuts.map(cutWords))
  if (candidates.length === 0) warnings.push('no frame of the donor plates can fill the whole range')
  else if (!known.model.taught)
    warnings.push(
      'too few frames show the region with nobody in front to learn from: what is expected inside it comes from other plates, and may be further off',
    )
  const named: Candidate[] = []
  for (const one of asked) {
    const draft = askedDraft(one, matrix, registration.frames)
    if (typeof draft === 'string') warnings.push(draft)
    else named.push(candidates.find((c) => c.id === one.id) ?? (await measured(draft)))
  }
  const shows = new WhatShows(workspace, region, known, matrix)
  const rows = withAsked(groupSimilar(candidates, lending).slice(0, keep), named).map((candidate) => {
    return { candidate, draft: drafts.get(candidate.id)! }
  })
  const words = await turns.run(shows.of(rows))
  const kept = rows.map(({ candidate, draft }, i) => measurer.explained(candidate, doubt(draft), words[i]))
  for (const [i, candidate] of kept.entries()) yield { kind: 'candidate', candidate, rank: i + 1 }
  return { kept, matrix, lending, warnings, cuts }
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

/** Drafts that are worth measuring: the best of each kind. */
const MEASURED_OF_A_KIND = 40

function shortList(matrix: Matrix): Draft[] {
  const cheapest = (drafts: Draft[]) => drafts.sort((a, b) => a.cost - b.cost).slice(0, MEASURED_OF_A_KIND)
  return [
    ...cheapest(holds(matrix)),
    ...cheapest(runs(matrix)),
    ...cheapest(mirrors(matrix)),
    ...relays(matrix),
    ...stacks(matrix),
  ]
}

/** 0 to 100 per pair for the sheet's picture of the matrix. */
function pictureOf(matrix: Matrix): Result['matrix'] {
  return {
    targets: matrix.targets.map((t) => t.frame),
    donors: matrix.donors.map((d) => ({ plate: d.plate, frame: d.frame })),
    quality: matrix.targets.map((_, t) =>
      matrix.donors.map((_, d) => {
        const cost = matrix.cost(t, d)
        return Number.isFinite(cost)
          ? Math.round(100 * Math.exp(-0.25 * Math.max(0, Math.sqrt(cost) - 1)))
          : null
      }),
    ),
  }
}
