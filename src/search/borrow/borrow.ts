// The aim `borrow`: when does a shadow or a reflection pass over the surface, and which run lands it on the wanted frame?

import { misuse } from '../../errors.js'
import { activeNote, openFootage } from '../../footage/active.js'
import { printFrames } from '../../footage/frames.js'
import type { Plate } from '../../footage/plate.js'
import { minSpread } from '../../match/min-spread.js'
import { grow, intersect, type Rect } from '../../raster/rect.js'
import { makeRegion, type Region } from '../../region/region.js'
import {
  activeIn,
  donorFrames,
  framesToRead,
  masksOf,
  numbersOf,
  sameSize,
  targetFrames,
} from '../../shot/validate.js'
import { FILTER_PX, type TrackedFrame, trackedRects } from '../../track/frame-tracker.js'
import { bandRect, globalExposures } from '../../track/global-exposure.js'
import { clipLevel, type FrameKey, framesOf, keyOf } from '../../track/read-frames.js'
import { readReferenceFrame } from '../../track/reference-frame.js'
import { trackFrames } from '../../track/track.js'
import { fingerprintsOf } from '../fingerprints.js'
import type { FindOptions } from '../hide/find.js'
import { register } from '../register.js'
import type { Candidate, Result } from '../result.js'
import { BorrowMaker } from './candidate.js'
import { lookOf, type Offset, refineCarry } from './look-in.js'
import { type Measured, measureLight } from './measured.js'
import { findMoments } from './moments.js'

export type Sign = 'darker' | 'brighter'

export interface BorrowOptions extends FindOptions {
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
 * Searches for moments of light, ranks the runs that land them on the wanted frame. Writes nothing.
 *
 * @throws as findDonors; MISUSE where --peak, --like, --look-in or --offset name what is not there
 */
export async function findBorrow(options: BorrowOptions): Promise<Result> {
  const { encoding = 'auto', maskFit = 'same', layer } = options
  const target = await openFootage(options.target, { encoding, layer })
  const others = await Promise.all((options.donors ?? []).map((d) => openFootage(d, { encoding, layer })))
  const plates = [target, ...others]
  for (const other of others) sameSize(target, other)
  const { reach, surround, keep } = numbersOf(target, options)
  const masks = await masksOf(options, target, targetFrames(target, options.frames), maskFit)
  const region = makeRegion(masks, target, surround)
  const frames = [...region.frames.keys()]
  if (options.peak !== undefined && region.empty.includes(options.peak))
    throw misuse('--peak', `a frame whose mask is not black, of ${printFrames(frames)}`, options.peak)
  const peak = peakOf(frames, options.peak)
  const there = await lookOf(region, target, surround, { ...options, maskFit })
  const donorKeys = donorFrames(plates, options.donorFrames)
  const like = likeOf(plates, donorKeys, options.like)
  const keys = framesToRead(frames, donorKeys)
  const { seen, rect, anchor, unreadable } = await seeAll(
    plates,
    keys,
    frames,
    peak,
    there.region,
    reach,
    options,
  )
  const measured = measure(seen, there.region, anchor, target)
  const at = measured.registration.frames.find((f) => keyOf(f) === keyOf(anchor))!
  const { carry, refined } = there.refine
    ? await refineCarry(there, region, measured.registration.cleanPlate.level, target, at.frame, at, {
        reachPx: reach,
        clip: clipLevel(target),
      })
    : { carry: there.carry, refined: false }
  const maker = new BorrowMaker({
    measured,
    seen,
    rect,
    region: there.region,
    frames,
    peak,
    carry,
    like,
    reach,
  })
  const warnings = [
    ...plates.flatMap(activeNote),
    ...region.notes,
    ...unreadable.map((u) => `${u.message} (left out of the search)`),
  ]
  if (there.refine && !refined)
    warnings.push('the two surfaces share no structure to align by: the 2D offset lays middle on middle')
  const candidates = hunt(measured, donorKeys, maker, options.sign, warnings)
  const result: Result = {
    schema: 'offcut.result/1',
    aim: 'borrow',
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
    borrow: {
      peak,
      sign: options.sign ?? null,
      like: options.like ?? null,
      lookIn: there.box === null ? null : [there.box.x, there.box.y, there.box.w, there.box.h],
      offset: [Number(carry.dx.toFixed(4)), Number(carry.dy.toFixed(4))],
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
    warnings,
    candidates: candidates.slice(0, keep),
  }
  return { ...result, fingerprints: await fingerprintsOf(result, plates, masks) }
}

/** Reads every frame, sees the light on it and follows the camera. */
async function seeAll(
  plates: readonly Plate[],
  keys: readonly FrameKey[],
  frames: readonly number[],
  peak: number,
  { window, frames: regions }: Region,
  reachPx: number,
  { onProgress, signal }: BorrowOptions,
) {
  const full = plates[0].active
  const keep = intersect(grow(window, reachPx + FILTER_PX), full)
  const rects = trackedRects(window, reachPx, full)
  const band = bandRect(full, rects.rect)
  const anchor = await readReferenceFrame(plates, keys, frames, peak, band)
  // Nothing is hidden here: the target's own region is as good a witness of the quiet state as any.
  const inside = new Float32Array(window.w * window.h)
  const mask = { inside, surround: regions.get(anchor.frame)!.surround }
  const clip = plates.map(clipLevel)
  const setup = { anchor: anchor.halves, rects, band, keep, window, mask, reachPx, clip }
  const { frames: seen, unreadable } = await trackFrames(plates, keys, setup, { onProgress, signal })
  signal?.throwIfAborted()
  return { seen, unreadable, rect: keep, anchor: { plate: 0, frame: anchor.frame } }
}

function measure(
  seen: readonly TrackedFrame[],
  { window, frames }: Region,
  anchor: FrameKey,
  { bitDepth, encoding }: Plate,
): Measured {
  const lights = globalExposures(seen.map(({ plate, frame, lit }) => ({ plate, frame, band: lit!.band })))
  const everywhere = new Float32Array(window.w * window.h).fill(1)
  const registered = register(
    seen,
    window,
    everywhere,
    anchor,
    () => null,
    (log2Level) => minSpread(log2Level, bitDepth, encoding),
  )
  return measureLight(registered, lights, frames.get(anchor.frame)!.inside)
}

function hunt(
  measured: Measured,
  donorKeys: readonly FrameKey[],
  maker: BorrowMaker,
  sign: Sign | undefined,
  warnings: string[],
): Candidate[] {
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
    for (const moment of findMoments(frames, measured.quiet, measured.grid)) {
      if (sign !== undefined && moment.sign !== sign) continue
      const made = maker.candidate(plate, moment)
      if (typeof made === 'string') warnings.push(made)
      else candidates.push(made)
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
  return eachOnce(candidates.sort((a, b) => b.score - a.score || a.id.localeCompare(b.id)))
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
  throw misuse('--peak', `a frame of the target range ${printFrames(frames)}`, asked)
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
  throw misuse('--like', `a donor frame (${has})`, asked)
}
