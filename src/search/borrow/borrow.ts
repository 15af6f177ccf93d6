// The aim `borrow`: when does a shadow or a reflection pass over the surface, and which run lands it on the wanted frame?

import { misuse } from '../../errors.js'
import { printFrames } from '../../footage/frames.js'
import type { Plate } from '../../footage/plate.js'
import { inWorkspace, type Workspace } from '../../kernels/workspace.js'
import { minSpread } from '../../match/min-spread.js'
import type { OnProgress } from '../../progress.js'
import type { Rect } from '../../raster/rect.js'
import { type Offset, shiftOf } from '../../raster/transform.js'
import type { Region } from '../../region/region.js'
import { type FrameKey, keyOf } from '../../shot/frame-key.js'
import { openShot, type Shot, type ShotRequest } from '../../shot/open-shot.js'
import { keepOf } from '../../shot/validate.js'
import { globalExposures } from '../../track/global-exposure.js'
import { planOf, type TrackedShot, trackShot } from '../../track/plan.js'
import { inWords, type Steps, Turns, untilAborted } from '../../turns.js'
import { type Proposed, planned, resultOf, type SearchEvent, type SearchOptions, tracked } from '../events.js'
import { fingerprintsOf } from '../fingerprints.js'
import { cameraEntry, inPlateTerms, laidShot } from '../laid-shot.js'
import { register } from '../register.js'
import type { Candidate, Result } from '../result.js'
import { resultHead, shotNotes } from '../result-head.js'
import { byRank } from '../score.js'
import { BorrowMaker } from './candidate.js'
import { type Measured, measureChanges } from './changes.js'
import { lookOf, refineCarry } from './look-in.js'
import { findMoments } from './moments.js'

export type Sign = 'darker' | 'brighter'

export interface BorrowOptions extends SearchOptions {
  /** Target frame on which the change is to be strongest; absent: the middle of the range. */
  readonly peak?: number
  /** Only changes of this sign. */
  readonly sign?: Sign
  /** A donor frame that shows what is wanted; of several plates that have it, the first. */
  readonly like?: number
  /** Another surface to hunt on: a mask, or a box. */
  readonly lookIn?: string | Rect
  /** 2D offset by hand: moves what is borrowed onto the region. */
  readonly offset?: Offset
}

/** Least length of an empty hunt's strongest change that is worth a word, stops: below it there is only grain. */
const NOTHING_STOPS = 1e-4

/**
 * Searches a shot for moments of light, ranks the runs that land them on the wanted frame. Writes nothing.
 *
 * @returns as hide, without rows
 * @throws as hide; MISUSE where `peak`, `like`, `lookIn` or `offset` name what is not there
 */
export function borrow(shot: Shot, options: BorrowOptions = {}): AsyncGenerator<SearchEvent, void> {
  return inWorkspace((workspace) => borrowIn(workspace, shot, options))
}

async function* borrowIn(
  workspace: Workspace,
  asShot: Shot,
  options: BorrowOptions,
): AsyncGenerator<SearchEvent, void> {
  const { signal, sign } = options
  const keep = keepOf(options.keep)
  if (options.peak !== undefined && asShot.region.empty.includes(options.peak))
    throw misuse('`peak`', `a frame whose mask is not black, of ${printFrames(asShot.frames)}`, options.peak)
  peakOf(asShot.frames, options.peak)
  likeOf(asShot.plates, asShot.donors, options.like)
  const laid = yield* laidShot(workspace, asShot, signal)
  const shot = laid?.shot ?? asShot
  const { plates, frames, donors, region, reach } = shot
  const [target] = plates
  const turns = new Turns(signal)
  const peak = peakOf(frames, options.peak)
  const there = await lookOf(region, target, shot.surround, { ...options, maskFit: shot.maskFit })
  const like = likeOf(plates, donors, options.like)
  const { window, frames: regions } = there.region
  const plan = planOf(shot, { window, wanted: peak, exposure: true })
  yield planned(shot, plan)
  // Nothing is hidden here: the target's own region is as good a witness of the reference state as any.
  const inside = new Float32Array(window.w * window.h)
  const read = trackShot(
    workspace,
    shot,
    plan,
    (frame) => ({ inside, surround: regions.get(frame)!.surround }),
    { signal },
  )
  const seen = yield* inWords(untilAborted(read, signal), tracked)
  const measured = await turns.run(measure(workspace, seen, there.region, target))
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
    rect: plan.keep,
    region: there.region,
    frames,
    peak,
    carry,
    like,
    reach,
    mayLend: (frame) => lenders.has(keyOf(frame)),
  })
  const warnings = [...shotNotes(asShot, seen.unreadable), ...(laid?.notes ?? [])]
  if (there.refine && !refined)
    warnings.push('the two surfaces share no structure to align by: the 2D offset lays middle on middle')
  const hunted = yield* hunt(measured, donors, maker, sign, turns)
  const head = resultHead(asShot)
  const found = hunted.candidates.slice(0, keep)
  const result: Result = {
    schema: 'offcut.result/1',
    aim: 'borrow',
    ...head.about,
    borrow: {
      peak,
      sign: sign ?? null,
      like: options.like ?? null,
      lookIn: there.box === null ? null : [there.box.x, there.box.y, there.box.w, there.box.h],
      offset: [Number(carry.dx.toFixed(4)), Number(carry.dy.toFixed(4))],
    },
    ...head.hunted,
    warnings: [...warnings, ...hunted.warnings],
    ...(laid ? { camera: cameraEntry(laid.camera) } : {}),
    candidates: laid ? found.map((candidate) => inPlateTerms(candidate, laid.shot, laid.camera)) : found,
  }
  yield {
    kind: 'done',
    result: {
      ...result,
      fingerprints: await fingerprintsOf(result, asShot.plates, shot.masks),
    },
  }
}

export interface FindBorrowOptions extends ShotRequest, BorrowOptions {
  readonly onProgress?: OnProgress
}

/** Opens the shot, searches to the end and returns what `result.json` holds. @throws as openShot and borrow */
export async function findBorrow(options: FindBorrowOptions): Promise<Result> {
  const { onProgress, keep, signal, peak, sign, like, lookIn, offset, ...request } = options
  const shot = await openShot(request)
  return resultOf(borrow(shot, { keep, signal, peak, sign, like, lookIn, offset }), onProgress)
}

function* measure(
  workspace: Workspace,
  { frames: seen, reference, holds }: TrackedShot,
  { window, frames }: Region,
  { bitDepth, encoding }: Plate,
): Steps<Measured> {
  const lights = yield* globalExposures(
    workspace,
    seen.map(({ plate, frame, lit }) => ({ plate, frame, band: lit!.band })),
  )
  const everywhere = new Float32Array(window.w * window.h).fill(1)
  const registered = yield* register(
    workspace,
    seen,
    window,
    everywhere,
    reference,
    () => null,
    (log2Level) => minSpread(log2Level, bitDepth, encoding),
    holds,
  )
  return yield* measureChanges(workspace, registered, lights, frames.get(reference.frame)!.inside)
}

async function* hunt(
  measured: Measured,
  donorKeys: readonly FrameKey[],
  maker: BorrowMaker,
  sign: Sign | undefined,
  turns: Turns,
): AsyncGenerator<Proposed, { candidates: Candidate[]; warnings: string[] }> {
  const warnings: string[] = []
  const candidates: Candidate[] = []
  let strongest = { plate: 0, frame: donorKeys[0].frame, stops: 0, sign: 'darker' as Sign }
  for (const plate of new Set(donorKeys.map((k) => k.plate))) {
    const frames = donorKeys
      .filter((k) => k.plate === plate)
      .flatMap((k) => measured.changes.get(keyOf(k)) ?? [])
    for (const f of frames) {
      for (const s of ['darker', 'brighter'] as const)
        if (f[s] > strongest.stops && (sign ?? s) === s)
          strongest = { plate, frame: f.frame, stops: f[s], sign: s }
    }
    for (const moment of findMoments(frames, measured.reference, measured.grid)) {
      if (sign !== undefined && moment.sign !== sign) continue
      const made = await turns.run(maker.candidate(plate, moment))
      if (typeof made === 'string') warnings.push(made)
      else {
        candidates.push(made)
        const rank = 1 + candidates.filter((c) => c.score > made.score).length
        yield { kind: 'candidate', candidate: made, rank }
      }
      await turns.pause()
    }
  }
  if (candidates.length === 0) {
    const what = sign === undefined ? 'no change of light' : `nothing that gets ${sign}`
    const seen =
      strongest.stops > NOTHING_STOPS
        ? `the strongest is ${strongest.stops.toFixed(3)} stops ${strongest.sign} over the region, on frame ${strongest.frame}`
        : 'nothing rises above grain on any frame'
    warnings.push(`${what} to borrow: ${seen}`)
  }
  const best = candidates.sort((a, b) => byRank(a, b) || a.id.localeCompare(b.id))
  return { candidates: eachOnce(best), warnings }
}

/** Two changes with one peak are one run, which lifts both: the better tells of it. Of what is no light, each thing once. */
function eachOnce(candidates: readonly Candidate[]): Candidate[] {
  const out: Candidate[] = []
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

function peakOf(frames: readonly number[], asked: number | undefined): number {
  if (asked === undefined) return frames[frames.length >> 1]
  if (frames.includes(asked)) return asked
  throw misuse('`peak`', `a frame of the target range ${printFrames(frames)}`, asked)
}

function likeOf(
  plates: readonly Plate[],
  keys: readonly FrameKey[],
  asked: number | undefined,
): FrameKey | null {
  if (asked === undefined) return null
  const found = keys.find((k) => k.frame === asked)
  if (found) return found
  const has = plates.map((p) => `${p.name} ${printFrames(p.frames)}`).join('; ')
  throw misuse('`like`', `a donor frame (${has})`, asked)
}
