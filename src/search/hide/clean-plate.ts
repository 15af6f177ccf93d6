// The clean plate of a region over all frames of its plate: the search is run again for one range after the other, with its
// own frames hidden from itself, so that every frame gets the donor, the light and the state that hold there. The result's own range is one of them.
// A mask that rides along is looked for where the result's camera took it.
import { misuse, OffcutError, option, printable } from '../../errors.js'
import { printFrames } from '../../footage/frames.js'
import type { Plate } from '../../footage/plate.js'
import { HELD_SIGMA } from '../../match/align.js'
import { CLEAN_SHARE } from '../../match/thresholds.js'
import type { OnProgress } from '../../progress.js'
import { isEmpty } from '../../raster/rect.js'
import { compose, invert, type Transform } from '../../raster/transform.js'
import { grownMasks } from '../../region/grow.js'
import { moveMask } from '../../region/move-mask.js'
import { openShot } from '../../shot/open-shot.js'
import { masksOf } from '../../shot/validate.js'
import { resultOf } from '../events.js'
import type { Candidate, FrameMatch, Result } from '../result.js'
import { hide } from './find.js'
import { requestOf } from './search-again.js'

/** Frames that are searched for together: what the region shows is taken for the same over them. */
const RANGE_FRAMES = 16
/** How often frames that nothing fills are searched for again, half of them at a time. */
const HALVINGS = 2

/** The id of its candidate. */
export const CLEAN_ID = 'relay-clean'

export interface CleanPlateFound {
  /** As the given result, its target range the whole plate, with that one candidate. */
  readonly result: Result
  readonly candidate: Candidate
  /** Frames of the plate with something of the mask on them, or of which that is not known, that no donor fills. */
  readonly unfilled: readonly number[]
}

/**
 * Finds a donor for every frame of a result's target plate. What most frames show in the region counts as empty, and so
 * does what stands still there for a while just before and after a frame; never what the result's own range shows. Reads all of the footage again.
 *
 * @throws as openShot and hide; MISUSE where the result borrows, or where no frame shows the region; as masksOf, MASK_FRAME_MISSING of the whole plate
 */
export async function findCleanPlate(
  result: Result,
  { onProgress, signal }: { readonly onProgress?: OnProgress; readonly signal?: AbortSignal } = {},
): Promise<CleanPlateFound> {
  if (result.aim !== 'hide') throw misuse(option('clean'), 'a result of the aim hide', result.aim)
  const request = requestOf(result)
  const { plates } = await openShot(request)
  const { shown, beyond } = await masked(result, plates[0])
  const found = new Map<number, FrameMatch>()
  const used: Candidate[] = []
  let about = result
  const hidden = new Set(result.target.frames)
  const search = async (range: readonly number[], halvings: number): Promise<void> => {
    if (range.length === 0) return
    signal?.throwIfAborted()
    // There something is to be hidden; elsewhere it must not come back as what the region shows for a while.
    const isHidden = hidden.has(range[0])
    const notFrames = isHidden ? undefined : result.target.frames
    const shot = await openShot({ ...request, frames: range, notFrames })
    about = await resultOf(hide(shot, { emptyAsUsual: !isHidden, signal }), onProgress)
    for (const candidate of about.candidates) {
      // A mosaic has one map for its whole range.
      if (candidate.kind === 'mosaic') continue
      const fills = candidate.frames.filter((f) => !found.has(f.target) && vouchedFor(f))
      if (fills.length > 0) used.push(candidate)
      for (const match of fills) found.set(match.target, match)
    }
    const left = range.filter((f) => !found.has(f))
    if (halvings === 0 || range.length === 1) return
    const half = Math.ceil(left.length / 2)
    await search(left.slice(0, half), halvings - 1)
    await search(left.slice(half), halvings - 1)
  }
  await search(
    shown.filter((f) => hidden.has(f)),
    HALVINGS,
  )
  const others = shown.filter((f) => !hidden.has(f))
  for (let i = 0; i < others.length; i += RANGE_FRAMES)
    await search(others.slice(i, i + RANGE_FRAMES), HALVINGS)
  const frames = plates[0].frames.filter((f) => !beyond.has(f))
  const filled = frames.filter((f) => found.has(f))
  if (filled.length === 0)
    throw misuse(option('clean'), 'a plate with frames that show the region', plates[0].name)
  const candidate = together(
    used,
    filled.map((f) => found.get(f)!),
    frames.length,
  )
  return {
    result: wholePlate(about, frames, beyond, candidate),
    candidate,
    unfilled: frames.filter((f) => !found.has(f)),
  }
}

/** Frames of the target's plate. */
interface Masked {
  /** Something of the mask lies on them. */
  readonly shown: readonly number[]
  /** The mask is black there, or has left the frame with the scenery that it was drawn on. */
  readonly beyond: ReadonlySet<number>
}

/** Of a mask sequence that a search of some frames had enough of. */
function wantedOnEveryFrame(cause: unknown, mask: string | undefined, { name, frames }: Plate): unknown {
  if (!(cause instanceof OffcutError) || cause.code !== 'MASK_FRAME_MISSING') return cause
  const wanted = `${option('clean')} needs a mask on every frame of ${name} (${printFrames(frames)})`
  const remedy = 'supply those that are missing, or run find with one still mask and go on from that result'
  return new OffcutError(cause.code, `${wanted}, and ${printable(mask!)} has none on some: ${remedy}`, 2, {
    cause,
  })
}

/** On frames that are neither nothing tells where a mask lies that rides along. @throws as masksOf */
async function masked(result: Result, plate: Plate): Promise<Masked> {
  const { frames } = plate
  const request = requestOf(result)
  const given = await masksOf(request, plate, frames, result.region.maskFit).catch((cause) => {
    throw wantedOnEveryFrame(cause, request.mask, plate)
  })
  const masks = grownMasks(given, request.grow, plate)
  const { camera, region } = result
  const drawnOn = camera === undefined ? undefined : region.at
  const poses = new Map<number, Transform>()
  for (const { plate: of, frame, pose, sigma } of camera?.frames ?? [])
    if (of === 0 && pose !== null && sigma !== null && sigma <= HELD_SIGMA) poses.set(frame, pose)
  const full = { x: 0, y: 0, w: plate.width, h: plate.height }
  const liesOn = (frame: number) => {
    const mask = masks.get(frame)!
    if (drawnOn === undefined) return !isEmpty(mask.rect)
    const toFrame = compose(invert(poses.get(frame)!), poses.get(drawnOn)!)
    return !isEmpty(moveMask(mask, toFrame, full).rect)
  }
  const told = drawnOn === undefined ? frames : frames.filter((f) => poses.has(f))
  const shown = told.filter(liesOn)
  const there = new Set(shown)
  return { shown, beyond: new Set(told.filter((f) => !there.has(f))) }
}

/** Nobody stands in front on the donor, and the surround tells the frame's light. */
function vouchedFor({ clean, seam }: FrameMatch): boolean {
  return clean !== null && clean >= CLEAN_SHARE && seam !== null
}

/** One candidate of all of them, which is as good as the worst. */
function together(used: readonly Candidate[], frames: readonly FrameMatch[], all: number): Candidate {
  const worst = used.reduce((a, b) => (b.score < a.score ? b : a))
  const grains = used.flatMap(({ grain }) => grain ?? []).sort((a, b) => a - b)
  const range = printFrames(worst.frames.map((f) => f.target))
  const { map: _, alternatives: __, asked: ___, ...measures } = worst
  return {
    ...measures,
    id: CLEAN_ID,
    kind: 'relay',
    timeOffset: null,
    grain: grains.length > 0 ? grains[grains.length >> 1] : null,
    why: `${frames.length} of ${all} frames of the plate; the worst on ${range}: ${worst.why}`,
    frames: [...frames],
  }
}

function wholePlate(
  about: Result,
  frames: readonly number[],
  beyond: ReadonlySet<number>,
  candidate: Candidate,
): Result {
  const { fingerprints: _, matrix: __, cuts: ___, ...rest } = about
  const target = { ...about.target, first: frames[0], last: frames[frames.length - 1], frames: [...frames] }
  const { empty: ____, ...region } = about.region
  const nothing = beyond.size === 0 ? {} : { empty: [...beyond] }
  return { ...rest, target, region: { ...region, ...nothing }, candidates: [candidate] }
}
