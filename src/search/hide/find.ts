// The main job: which frames can lend the region over the target range, best first.
import { activeNote, openFootage } from '../../footage/active.js'
import type { Plate } from '../../footage/plate.js'
import { minSpread } from '../../match/min-spread.js'
import type { OnProgress } from '../../progress.js'
import { grow, intersect, type Rect } from '../../raster/rect.js'
import type { MaskFit } from '../../region/mask.js'
import { makeRegion, type Region } from '../../region/region.js'
import {
  activeIn,
  donorFrames,
  framesToRead,
  masksOf,
  numbersOf,
  sameSize,
  targetFrames,
  witnesses,
} from '../../shot/validate.js'
import { FILTER_PX, type TrackedFrame, trackedRects } from '../../track/frame-tracker.js'
import { clipLevel, type FrameKey, framesOf, keyOf } from '../../track/read-frames.js'
import { readReferenceFrame } from '../../track/reference-frame.js'
import { trackFrames } from '../../track/track.js'
import { fingerprintsOf } from '../fingerprints.js'
import { Measurer } from '../measure.js'
import { register } from '../register.js'
import type { Candidate, Result } from '../result.js'
import { type Draft, holds, mirrors, relays, runs, stacks } from './drafts.js'
import { withGains } from './gains.js'
import { groupSimilar } from './group-similar.js'
import { type Matrix, matchMatrix } from './matrix.js'
import { regionState } from './region-state.js'

export interface FindOptions {
  /** The target's plate: a folder, one of its frames, a pattern, a movie. */
  readonly target: string
  /** Target frames, as numbers or as `1001-1024`. */
  readonly frames: string | readonly number[]
  /** A mask (still, SVG or sequence) or a box; one of the two. */
  readonly mask?: string
  readonly box?: Rect
  readonly maskFit?: MaskFit
  /** Donor plates beside the target's own. */
  readonly donors?: readonly string[]
  /** Donor frames to use, of every donor plate; absent: all. */
  readonly donorFrames?: string | readonly number[]
  /** Largest 2D offset, whole pixels, 0 to half the plate's shorter side; absent: 16, or what the plate allows. */
  readonly reach?: number
  /** Width of the ring, whole pixels, 2 to the same; absent: 24, or what the plate allows. */
  readonly surround?: number
  /** An encoding's name or `auto`. */
  readonly encoding?: string
  readonly layer?: string
  readonly keep?: number
  readonly onProgress?: OnProgress
  readonly signal?: AbortSignal
}

/**
 * Searches, ranks and returns what `result.json` holds. Writes nothing.
 *
 * @throws OffcutError with the codes of openPlate, loadMasks and makeRegion; MISUSE; FRAMES_OUTSIDE; FRAMES_UNREADABLE
 */
export async function findDonors(options: FindOptions): Promise<Result> {
  const { encoding = 'auto', maskFit = 'same', layer } = options
  const target = await openFootage(options.target, { encoding, layer })
  const others = await Promise.all((options.donors ?? []).map((d) => openFootage(d, { encoding, layer })))
  const plates = [target, ...others]
  for (const other of others) sameSize(target, other)
  const { reach, surround, keep } = numbersOf(target, options)
  const masks = await masksOf(options, target, targetFrames(target, options.frames), maskFit)
  const region = makeRegion(masks, target, surround)
  const frames = [...region.frames.keys()]
  const donorKeys = donorFrames(plates, options.donorFrames)
  const rect = intersect(grow(region.window, reach + FILTER_PX), target.active)
  const { seen, warnings } = await readAll(plates, frames, donorKeys, region, rect, reach, options)
  options.signal?.throwIfAborted()
  const searched = search(frames, donorKeys, region, seen, { reach, keep }, target, options.onProgress)
  const { onProgress, signal } = options
  const { matrix } = searched
  const candidates = await withGains(searched.kept, { plates, rect, region, matrix, onProgress, signal })
  const result: Result = {
    schema: 'offcut.result/1',
    aim: 'hide',
    target: {
      plate: target.spec,
      first: frames[0],
      last: frames[frames.length - 1],
      frames,
      width: target.width,
      height: target.height,
      encoding: target.encoding,
      encodingWhy: target.encodingWhy,
      ...(layer === undefined ? {} : { layer }),
      ...activeIn(target),
    },
    region: {
      mask: options.mask ?? null,
      maskFit,
      box: [region.box.x, region.box.y, region.box.w, region.box.h],
      surround,
      ...(region.empty.length === 0 ? {} : { empty: [...region.empty] }),
    },
    reach,
    donors: plates.map((p, plate) => ({
      plate: p.spec,
      first: p.first,
      last: p.last,
      frames: p.frames.length,
      ...(options.donorFrames === undefined ? {} : { asked: framesOf(donorKeys, plate) }),
      encoding: p.encoding,
      ...(layer === undefined ? {} : { layer }),
      ...activeIn(p),
    })),
    warnings: [...plates.flatMap(activeNote), ...region.notes, ...warnings, ...searched.warnings],
    matrix: pictureOf(matrix),
    candidates,
  }
  return { ...result, fingerprints: await fingerprintsOf(result, plates, masks) }
}

function search(
  frames: readonly number[],
  donorKeys: readonly FrameKey[],
  region: Region,
  seen: readonly TrackedFrame[],
  { reach, keep }: { reach: number; keep: number },
  { bitDepth, encoding }: Plate,
  onProgress: OnProgress | undefined,
): { kept: Candidate[]; matrix: Matrix; warnings: string[] } {
  const middle = frames[frames.length >> 1]
  const noises = new Map(seen.map((f) => [keyOf(f), f.noise]))
  const registration = register(
    seen,
    region.window,
    region.frames.get(middle)!.surround,
    { plate: 0, frame: middle },
    ({ plate, frame }) => (plate === 0 ? (region.frames.get(frame)?.inside ?? null) : null),
    (log2Level) => minSpread(log2Level, bitDepth, encoding),
  )
  const isDonor = new Set(donorKeys.map(keyOf))
  const isTarget = new Set(frames)
  const targets = registration.frames.filter((f) => f.plate === 0 && isTarget.has(f.frame))
  const donors = registration.frames.filter((f) => isDonor.has(keyOf(f)))
  const state = regionState(registration, region, targets)
  const { cleanPlate } = state
  const matrix = matchMatrix({ ...registration, cleanPlate }, region, targets, donors, {
    reachPx: reach,
    onProgress,
  })
  const measurer = new Measurer(region, matrix, (f) => noises.get(keyOf(f)) ?? null, state)
  const candidates = shortList(matrix)
    .map((draft) => measurer.candidate(draft))
    .sort((a, b) => b.score - a.score)
  const warnings = [state.unknown ?? state.doubt ?? []].flat()
  if (candidates.length === 0) warnings.push('no frame of the donor plates can fill the whole range')
  return { kept: groupSimilar(candidates, matrix).slice(0, keep), matrix, warnings }
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

async function readAll(
  plates: readonly Plate[],
  frames: readonly number[],
  donorKeys: readonly FrameKey[],
  region: Region,
  rect: Rect,
  reach: number,
  options: FindOptions,
): Promise<{ seen: readonly TrackedFrame[]; warnings: string[] }> {
  const wanted = framesToRead(frames, donorKeys, witnesses(plates))
  const { onProgress, signal } = options
  const rects = trackedRects(region.window, reach, plates[0].active)
  const anchor = await readReferenceFrame(plates, wanted, frames, frames[frames.length >> 1], rects.rect)
  const setup = {
    anchor: anchor.halves,
    rects,
    keep: rect,
    window: region.window,
    mask: region.frames.get(anchor.frame)!,
    reachPx: reach,
    clip: plates.map(clipLevel),
  }
  const read = await trackFrames(plates, wanted, setup, { onProgress, signal })
  const warnings = read.unreadable.map((u) => `${u.message} (left out of the search)`)
  return { seen: read.frames, warnings }
}
