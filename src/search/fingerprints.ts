// What a result was made from, and whether it is still the same: a patch of something else must not pass in silence.
import { createHash } from 'node:crypto'
import { stat } from 'node:fs/promises'
import { printable } from '../errors.js'
import { framesInWords } from '../footage/frames.js'
import type { Plate } from '../footage/plate.js'
import type { Mask } from '../region/mask.js'
import type { Fingerprints, Result } from './result.js'

/** Something that is not what it was when the search ran. */
export interface Change {
  readonly what: 'mask' | 'plate' | 'options' | 'look'
  /** What changed, where, and what of the result no longer holds. */
  readonly message: string
}

/**
 * Fingerprints of what a search was given: masks by their weights, so that another way of storing the same mask is no
 * change; plates, which would take minutes to read, by the size and date of each file that a candidate uses.
 *
 * @param plates as in `result.donors`
 * @param masks  of all frames that were asked for; not looked at where the region is a box
 */
export async function fingerprintsOf(
  result: Result,
  plates: readonly Plate[],
  masks: ReadonlyMap<number, Mask>,
): Promise<Fingerprints> {
  return {
    options: hash(optionsOf(result)),
    ...(result.region.mask === null ? {} : { mask: maskPrints(masks) }),
    plates: await Promise.all(plates.map((plate, i) => platePrints(plate, usedFrames(result, i)))),
  }
}

/** What differs now; nothing for a result that was written without fingerprints. */
export async function changesSince(
  result: Result,
  plates: readonly Plate[],
  masks: ReadonlyMap<number, Mask>,
): Promise<Change[]> {
  const then = result.fingerprints
  if (then === undefined) return []
  const now = await fingerprintsOf(result, plates, masks)
  const changes: Change[] = []
  const mask = differing(then.mask ?? {}, now.mask ?? {})
  if (mask.length > 0) {
    const name = printable(result.region.mask ?? 'the box')
    const message = `the mask ${name} has changed since the search${onFrames(mask, then.mask)}: pixels are replaced where it is white now, the ranking and its numbers are of the mask as it was`
    changes.push({ what: 'mask', message })
  }
  for (const [i, plate] of plates.entries()) {
    const files = differing(then.plates[i] ?? {}, now.plates[i]!)
    if (files.length === 0) continue
    const message = `the plate ${printable(plate.name)} has other files than when the search ran${onFrames(files, then.plates[i])}: the ranking and its numbers are of the earlier ones`
    changes.push({ what: 'plate', message })
  }
  if (then.options !== now.options) {
    const message =
      'the options in result.json have been changed since the search: the ranking and its numbers are of those it ran with'
    changes.push({ what: 'options', message })
  }
  return changes
}

type Prints = Readonly<Record<string, string>>

/** Frames that either has and that are not alike in both. */
function differing(then: Prints, now: Prints): number[] {
  const frames = new Set([...Object.keys(then), ...Object.keys(now)])
  return [...frames]
    .filter((f) => then[f] !== now[f])
    .map(Number)
    .sort((a, b) => a - b)
}

/** Which frames, where it is not all of them. */
function onFrames(frames: readonly number[], all: Prints = {}): string {
  if (frames.length >= Object.keys(all).length) return ''
  return ` on ${framesInWords(frames)}`
}

function hash(...parts: readonly (string | Uint8Array)[]): string {
  const sum = createHash('sha256')
  for (const part of parts) sum.update(part)
  return sum.digest('hex').slice(0, 16)
}

/** What was asked, but for where things lie: a result may be carried elsewhere with its footage. */
function optionsOf({ aim, target, region, borrow, reach, donors }: Result): string {
  const { frames, encoding, layer = null } = target
  const { maskFit, box, surround, empty = [], grow, drawn, at } = region
  const { peak, sign, like, lookIn, offset } = borrow ?? {}
  const lenders = donors.map((d) => [d.encoding, d.layer ?? null])
  return JSON.stringify([
    aim,
    frames,
    encoding,
    layer,
    maskFit,
    box,
    surround,
    empty,
    reach,
    lenders,
    [peak, sign, like, lookIn, offset],
    ...(grow === undefined ? [] : [grow, drawn ?? null]),
    ...(at === undefined ? [] : [{ at }]),
  ])
}

function maskPrints(masks: ReadonlyMap<number, Mask>): Record<string, string> {
  const known = new Map<Mask, string>()
  const prints: Record<string, string> = {}
  for (const [frame, mask] of masks) {
    const { rect, data } = mask
    let print = known.get(mask)
    if (print === undefined) {
      const bytes = new Uint8Array(data.buffer, data.byteOffset, data.byteLength)
      print = hash(`${rect.x},${rect.y},${rect.w},${rect.h};`, bytes)
      known.set(mask, print)
    }
    prints[frame] = print
  }
  return prints
}

async function platePrints(plate: Plate, frames: readonly number[]): Promise<Record<string, string>> {
  const prints: Record<string, string> = {}
  const there = new Set(plate.frames)
  for (const frame of frames) {
    // a frame that has gone is told by the one who needs it
    if (!there.has(frame)) continue
    const found = await stat(plate.pathOf(frame), { bigint: true }).catch(() => null)
    if (found !== null) prints[frame] = hash(`${found.size} ${found.mtimeNs}`)
  }
  return prints
}

/** Frames of a plate that the result's targets and candidates are made of. */
function usedFrames({ target, candidates }: Result, plate: number): number[] {
  const used = new Set(plate === 0 ? target.frames : [])
  for (const { donor, frames, moment } of candidates) {
    for (const f of frames) for (const { plate: of, frame } of lentFrom(f)) if (of === plate) used.add(frame)
    if (donor === plate) for (const frame of moment?.quiet ?? []) used.add(frame)
    for (const share of moment?.quietState ?? []) if (share.plate === plate) used.add(share.frame)
  }
  return [...used].sort((a, b) => a - b)
}

function lentFrom({
  plate,
  donor,
  stack,
  pieces,
}: Result['candidates'][number]['frames'][number]): readonly { plate: number; frame: number }[] {
  return stack ?? pieces ?? [{ plate, frame: donor }]
}
