// The aim `borrow`: when does a shadow or a reflection pass over the surface, and which run lands it on the wanted frame?

import { misuse } from '../../errors.js'
import { printFrames } from '../../footage/frames.js'
import type { Plate } from '../../footage/plate.js'
import { inWorkspace, type Workspace } from '../../kernels/workspace.js'
import type { Sign } from '../../match/light-law.js'
import type { OnProgress } from '../../progress.js'
import type { Rect } from '../../raster/rect.js'
import type { Offset } from '../../raster/transform.js'
import type { FrameKey } from '../../shot/frame-key.js'
import { namesApart } from '../../shot/names-apart.js'
import { openShot, type Shot, type ShotRequest } from '../../shot/open-shot.js'
import { keepOf } from '../../shot/validate.js'
import { planOf, trackShot } from '../../track/plan.js'
import { inWords, Turns, untilAborted } from '../../turns.js'
import { planned, resultOf, type SearchEvent, type SearchOptions, tracked } from '../events.js'
import { fingerprintsOf } from '../fingerprints.js'
import { cameraEntry, inPlateTerms, laidShot } from '../laid-shot.js'
import { OnTheWay } from '../on-the-way.js'
import type { Candidate, Result } from '../result.js'
import { resultHead, shotNotes } from '../result-head.js'
import { hunt, huntEarly, type Wanted } from './hunt.js'
import { lookOf } from './look-in.js'

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

/** Frames beside the target's that a hunt on the way looks at: a moment is a stretch of frames, so as many as there is time for. */
const OTHERS = 60

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
  const { plates, frames, donors, region } = shot
  const turns = new Turns(signal)
  const peak = peakOf(frames, options.peak)
  const there = await lookOf(region, plates[0], shot.surround, { ...options, maskFit: shot.maskFit })
  const like = likeOf(plates, donors, options.like)
  const { window, frames: regions } = there.region
  const plan = planOf(shot, { window, wanted: peak, exposure: true })
  yield planned(shot, plan)
  const wanted: Wanted = { there, peak, sign, like, keep: plan.keep }
  const inPlates = <C extends Candidate>(found: readonly C[]) =>
    found.map((candidate) => (laid ? inPlateTerms(candidate, laid.shot, laid.camera) : candidate))
  const onTheWay = options.anytime
    ? new OnTheWay(
        plan,
        shot,
        async (some, followed) => {
          const early = await huntEarly(workspace, shot, { frames: some, ...followed }, wanted, turns)
          return { candidates: inPlates(early.slice(0, keep)) }
        },
        { landing: peak, others: OTHERS },
      )
    : null
  // Nothing is hidden here: the target's own region is as good a witness of the reference state as any.
  const inside = new Float32Array(window.w * window.h)
  const read = trackShot(
    workspace,
    shot,
    plan,
    (frame) => ({ inside, surround: regions.get(frame)!.surround }),
    { runs: onTheWay?.order, signal },
  )
  const heard = untilAborted(read, signal)
  const seen = yield* onTheWay === null ? inWords(heard, tracked) : onTheWay.heard(heard)
  const { candidates, carry, ...rest } = yield* hunt(workspace, shot, seen, wanted, turns)
  const warnings = [...shotNotes(asShot, seen.unreadable), ...(laid?.notes ?? []), ...rest.warnings]
  const head = resultHead(asShot)
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
    warnings,
    ...(laid?.camera ? { camera: cameraEntry(laid.camera) } : {}),
    candidates: inPlates(candidates.slice(0, keep)),
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
  const names = namesApart(plates)
  const has = plates.map(({ frames }, k) => `${names[k]} ${printFrames(frames)}`).join('; ')
  throw misuse('`like`', `a donor frame (${has})`, asked)
}
