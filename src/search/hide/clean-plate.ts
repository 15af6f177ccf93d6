// The clean plate of a region over all frames of its plate: the search is run again for one range after the other, with its
// own frames hidden from itself, so that every frame gets the donor, the light and the state that hold there. The result's own range is one of them.
import { misuse, option } from '../../errors.js'
import { printFrames } from '../../footage/frames.js'
import { CLEAN_SHARE } from '../../match/thresholds.js'
import type { OnProgress } from '../../progress.js'
import { openShot } from '../../shot/open-shot.js'
import { resultOf } from '../events.js'
import type { Candidate, FrameMatch, Result } from '../result.js'
import { hide } from './find.js'
import { requestOf } from './search-again.js'

/** Frames that are searched for together: what the region shows is taken for the same over them. */
const RANGE_FRAMES = 16
/** How often frames that nothing fills are searched for again, half of them at a time. */
const HALVINGS = 2

export interface CleanPlateFound {
  /** As the given result, its target range the whole plate, with that one candidate. */
  readonly result: Result
  readonly candidate: Candidate
  /** Frames of the plate that no donor fills. */
  readonly unfilled: readonly number[]
}

/**
 * Finds a donor for every frame of a result's target plate. What most frames show in the region counts as empty, and so
 * does what stands still there for a while just before and after a frame; never what the result's own range shows. Reads all of the footage again.
 *
 * @throws as openShot and hide; MISUSE where the result borrows, or its mask rides along with the scenery, or where no frame shows the region
 */
export async function findCleanPlate(
  result: Result,
  { onProgress, signal }: { readonly onProgress?: OnProgress; readonly signal?: AbortSignal } = {},
): Promise<CleanPlateFound> {
  if (result.aim !== 'hide') throw misuse(option('clean'), 'a result of the aim hide', result.aim)
  if (result.region.at !== undefined) {
    const got = `one drawn on frame ${result.region.at}`
    throw misuse(option('clean'), 'a mask that stands still in the frame, or one for every frame', got)
  }
  const request = requestOf(result)
  const { plates } = await openShot(request)
  const frames = plates[0].frames
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
  await search(result.target.frames, HALVINGS)
  const others = frames.filter((f) => !hidden.has(f))
  for (let i = 0; i < others.length; i += RANGE_FRAMES)
    await search(others.slice(i, i + RANGE_FRAMES), HALVINGS)
  const filled = frames.filter((f) => found.has(f))
  if (filled.length === 0)
    throw misuse(option('clean'), 'a plate with frames that show the region', plates[0].name)
  const candidate = together(
    used,
    filled.map((f) => found.get(f)!),
    frames.length,
  )
  return {
    result: wholePlate(about, frames, candidate),
    candidate,
    unfilled: frames.filter((f) => !found.has(f)),
  }
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
    id: 'relay-clean',
    kind: 'relay',
    timeOffset: null,
    grain: grains.length > 0 ? grains[grains.length >> 1] : null,
    why: `${frames.length} of ${all} frames of the plate; the worst on ${range}: ${worst.why}`,
    frames: [...frames],
  }
}

function wholePlate(about: Result, frames: readonly number[], candidate: Candidate): Result {
  const { fingerprints: _, matrix: __, cuts: ___, ...rest } = about
  const target = { ...about.target, first: frames[0], last: frames[frames.length - 1], frames: [...frames] }
  return { ...rest, target, candidates: [candidate] }
}
