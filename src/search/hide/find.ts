// The aim `hide`: which frames can lend the region over the target range, best first.
import { inWorkspace, type Workspace } from '../../kernels/workspace.js'
import type { OnProgress } from '../../progress.js'
import { openShot, type Shot, type ShotRequest } from '../../shot/open-shot.js'
import { keepOf } from '../../shot/validate.js'
import { isSharedOut, type Plan, planOf, trackShot } from '../../track/plan.js'
import { begun, inWords, Turns, untilAborted } from '../../turns.js'
import { planned, resultOf, type SearchEvent, type SearchOptions, tracked } from '../events.js'
import { fingerprintsOf } from '../fingerprints.js'
import { cameraEntry, cutsInPlateTerms, inPlateTerms, type LaidShot, laidShot } from '../laid-shot.js'
import { OnTheWay } from '../on-the-way.js'
import type { Candidate, Result } from '../result.js'
import { resultHead, shotNotes } from '../result-head.js'
import { askedOf } from './asked.js'
import { withGains } from './gains.js'
import { pictureOf } from './matrix-picture.js'
import { among, ofPlate, otherPlaces, placeDoubt } from './other-places.js'
import { rank, rankEarly, type Wanted } from './rank.js'

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
  { keep: most, tries = [], emptyAsUsual = false, anytime = false, signal }: HideOptions,
): AsyncGenerator<SearchEvent, void> {
  const keep = keepOf(most)
  const asked = askedOf(tries, asShot)
  const turns = new Turns(signal)
  const wanted = { keep, asked, doubt: null, emptyAsUsual }
  // Most cameras stand: what is read then is begun while it is told.
  const off = new AbortController()
  const called = signal === undefined ? off.signal : AbortSignal.any([signal, off.signal])
  const ifItStands = readAhead(
    readingOf(workspace, asShot, wanted, new Turns(called), anytime ? (c) => c : null),
  )
  let laid: LaidShot | null | undefined
  try {
    laid = yield* laidShot(workspace, asShot, signal)
  } finally {
    if (laid !== null) {
      off.abort()
      await closed(ifItStands)
    }
  }
  const inPlates = (c: Candidate) => (laid ? inPlateTerms(c, laid.shot, laid.camera) : c)
  const reading =
    laid === null
      ? ifItStands
      : readingOf(workspace, laid.shot, { ...wanted, doubt: laid.doubt }, turns, anytime ? inPlates : null)
  const own = yield* searched(workspace, reading, turns)
  const places = asShot.request.reach === 'anywhere' ? await otherPlaces(workspace, asShot, laid) : []
  const elsewhere: Candidate[][] = []
  for (const { shot, place } of places) {
    const there = { keep, asked: [], doubt: placeDoubt(place), emptyAsUsual }
    const found = yield* searched(workspace, readingOf(workspace, shot, there, turns, null), turns)
    const named = found.candidates.map((c) => ofPlate(c, shot.plates.length))
    elsewhere.push(named.map((c) => inPlateTerms(c, shot, laid?.camera ?? null)))
  }
  const inTheirs = own.candidates.map(inPlates)
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
    ...(laid?.camera ? { camera: cameraEntry(laid.camera) } : {}),
    warnings: [...shotNotes(asShot, own.seen.unreadable), ...(laid?.notes ?? []), ...own.warnings],
    ...(own.cuts.length === 0 ? {} : { cuts: laid ? cutsInPlateTerms(own.cuts, laid) : own.cuts }),
    matrix: pictureOf(own.lending),
    candidates: places.length === 0 ? inTheirs : among(inTheirs, elsewhere, keep),
  }
  const fingerprints = await fingerprintsOf(result, about.plates, asShot.masks)
  yield { kind: 'done', result: { ...result, fingerprints } }
}

/** Frames that are read, and ranked on the way. */
interface Reading {
  readonly shot: Shot
  readonly wanted: Wanted
  readonly plan: Plan
  readonly onTheWay: OnTheWay | null
  readonly frames: ReturnType<typeof trackShot>
}

/** @param early puts a candidate that is told before all is read into the plates' terms; null: none is */
function readingOf(
  workspace: Workspace,
  shot: Shot,
  wanted: Wanted,
  turns: Turns,
  early: ((candidate: Candidate) => Candidate) | null,
): Reading {
  const { frames: targets, region } = shot
  const middle = targets[targets.length >> 1]
  const plan = planOf(shot, { window: region.window, wanted: middle })
  const maskOf = (frame: number) => region.frames.get(frame)!
  const onTheWay =
    early === null
      ? null
      : new OnTheWay(plan, shot, async (some, { holds }) => {
          const found = await rankEarly(workspace, shot, { frames: some, holds }, wanted, turns)
          return { ...found, candidates: found.candidates.map(early) }
        })
  const { signal } = turns
  const read = trackShot(workspace, shot, plan, maskOf, { runs: onTheWay?.order, signal })
  return { shot, wanted, plan, onTheWay, frames: untilAborted(read, signal) }
}

/** The same, begun at once where other threads read. */
function readAhead(reading: Reading): Reading {
  const { shot, plan, frames } = reading
  return isSharedOut(shot, plan) ? { ...reading, frames: begun(frames) } : reading
}

/** What was begun of it is given up, wherever it stands. */
async function closed({ frames }: Reading): Promise<void> {
  await frames.return(undefined as never)
}

/** Frames read, compared, ranked, and their light measured. */
async function* searched(workspace: Workspace, reading: Reading, turns: Turns) {
  const { shot, wanted, plan, onTheWay, frames } = reading
  const { plates, region } = shot
  const { signal } = turns
  let isHeard = false
  try {
    yield planned(shot, plan)
    isHeard = true
  } finally {
    if (!isHeard) await closed(reading)
  }
  const seen = yield* onTheWay === null ? inWords(frames, tracked) : onTheWay.heard(frames)
  const { kept, matrix, mosaicWithout, ...rest } = yield* rank(workspace, shot, seen, wanted, turns)
  if (onTheWay !== null) yield { kind: 'matrix' as const, matrix: pictureOf(rest.lending) }
  const measuring = withGains(kept, { plates, rect: plan.keep, region, matrix }, mosaicWithout)
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
