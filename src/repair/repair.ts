// All that is open while candidates of one result are made into pixels.

import type { Look } from '../colour/look/look.js'
import { type ViewingTransform, viewingOf } from '../colour/viewing.js'
import type { FeatherSide } from '../defaults.js'
import { misuse, OffcutError, plateError } from '../errors.js'
import { printFrames } from '../footage/frames.js'
import { openPlate, type Plate } from '../footage/plate.js'
import { Workspace } from '../kernels/workspace.js'
import type { Frame } from '../raster/frame.js'
import type { Rect } from '../raster/rect.js'
import { compose, invert, type Transform } from '../raster/transform.js'
import { grownMasks } from '../region/grow.js'
import { boxMask, loadMasks, type Mask } from '../region/mask.js'
import { moveMask } from '../region/move-mask.js'
import { makeRegion, type Region, withEmpty } from '../region/region.js'
import { type Change, changesSince } from '../search/fingerprints.js'
import { rememberedLook } from '../search/remembered-look.js'
import type { Candidate, Result } from '../search/result.js'
import type { Shot } from '../shot/open-shot.js'
import { KeptPieces, MAX_KEPT_BYTES } from '../track/kept-light.js'

/** All that is open while candidates of one result are made into pixels. */
export interface RepairJob {
  readonly result: Result
  readonly target: Plate
  /** As in `result.donors`. */
  readonly donors: readonly Plate[]
  readonly region: Region
  /** What is no longer as it was when the search ran. */
  readonly changed: readonly Change[]
  /** How its pictures are looked at. */
  readonly viewing: ViewingTransform
  readonly workspace: Workspace
  /** Share that it has of what all jobs beside each other may keep in memory, 0 to 1. */
  readonly room: number
  /** Gives its memory back, which the collector may not for long: nothing can be repaired with it afterwards. */
  close(): void
}

export interface RepairOptions {
  readonly featherPx?: number
  /** Default: outside. */
  readonly featherSide?: FeatherSide
  readonly addGrain?: boolean
  /** Closes what is left of a difference in light at the border of a hide's patch. Default: false. */
  readonly membrane?: boolean
}

/** Linear-light pictures of the region's window for one target frame. The donor's is kept, and not to be changed. */
export interface RepairedFrame {
  readonly rect: Rect
  readonly target: Frame
  /** The donor on the target, its light as it was shot. */
  readonly donor: Frame
  /** The donor's pixels as they are lent: light matched, grain put back. */
  readonly patch: Frame
  /** The patch over the target. */
  readonly repaired: Frame
  /** The patch's alpha, 0 to 1, row-major. Others may have the same: not to be changed. */
  readonly alpha: Readonly<Float32Array>
  /** Of a hide: detail inside over that of the donors by themselves, a ratio of standard deviations; null: they have none, or are lent as they are. */
  readonly detail?: number | null
  /** The mask as given, 0 to 1. */
  readonly mask: Float32Array
}

/** The same on a shot that is open already: the one that the result was searched on. */
export function repairOf(
  { plates, masks, request, region: drawn }: Shot,
  result: Result,
  { look }: { readonly look?: Look } = {},
): RepairJob {
  const [target] = plates
  const rides = result.region.at !== undefined && result.camera !== undefined
  const region = rides ? regionOf(grownMasks(masks, request.grow, target), result, target) : drawn
  return jobOf({ result, target, donors: plates, region, changed: [] }, look)
}

/**
 * The same job with its footage read by way of what a search has kept: for pictures to look at, which may differ from what
 * is stored by the rounding to half floats. Of half floats of linear light they don't.
 */
export function onKeptLight(job: RepairJob): RepairJob {
  const kept = new KeptPieces(job.room * MAX_KEPT_BYTES)
  return { ...job, target: kept.of(job.target), donors: job.donors.map((plate) => kept.of(plate)) }
}

/** What is open, with all that is made of it. */
export function jobOf(
  parts: Omit<RepairJob, 'viewing' | 'workspace' | 'room' | 'close'>,
  look: Look | undefined,
  room = 1,
): RepairJob {
  const { encoding, info } = parts.target
  const viewing = viewingOf({ encoding, chromaticities: info.chromaticities, look })
  const workspace = new Workspace()
  return { ...parts, viewing, workspace, room, close: () => workspace.close() }
}

/**
 * Opens the footage a result was made from.
 *
 * @param options.look what its pictures are seen through; default: the look that the result remembers
 * @throws OffcutError where a plate or mask has gone or changed its size
 */
export async function openRepair(
  result: Result,
  { look: asked }: { readonly look?: Look } = {},
): Promise<RepairJob> {
  const { target: searched, region: of } = result
  const open = ({ plate, encoding, layer, active }: Result['target'] | Result['donors'][number]) => {
    if (active === undefined) return openPlate(plate, { encoding, layer })
    const [x, y, w, h] = active
    return openPlate(plate, { encoding, layer, active: { x, y, w, h } })
  }
  const target = await open(searched)
  // The target lends, too; opened once it is also kept once, where it is a movie.
  const isTarget = (of: (typeof result.donors)[number]) =>
    of.plate === searched.plate &&
    of.encoding === searched.encoding &&
    of.layer === searched.layer &&
    String(of.active) === String(searched.active)
  const donors = await Promise.all(result.donors.map((of) => (isTarget(of) ? target : open(of))))
  const was: [number, number] = [searched.width, searched.height]
  for (const [plate, [width, height]] of [
    [target, was] as const,
    ...donors.map((plate, i) => [plate, result.donors[i].size ?? was] as const),
  ]) {
    if (plate.width === width && plate.height === height) continue
    throw new OffcutError(
      'PLATE_CHANGED',
      `${plate.name} is ${plate.width} x ${plate.height} now, it was ${width} x ${height} when the search ran: search again`,
    )
  }
  const [x, y, w, h] = of.drawn ?? of.box
  const masks: ReadonlyMap<number, Mask> =
    of.mask === null
      ? onAll(searched.frames, boxMask({ x, y, w, h }, target))
      : await masksDrawn(of.mask, result, target)
  const region = regionOf(grownMasks(masks, of.grow, target), result, target)
  const black = searched.frames.filter((f) => !region.frames.has(f))
  if (black.length > 0) {
    throw plateError(
      'MASK_CHANGED',
      of.mask ?? target.spec,
      `is black now on frame ${printFrames(black)}, it was not when the search ran`,
      'search again',
    )
  }
  const changed = await changesSince(result, donors, masks)
  const remembered = asked === undefined ? await rememberedLook(result) : { look: asked }
  if (remembered.lost !== undefined) changed.push(remembered.lost)
  return jobOf({ result, target, donors, region, changed }, remembered.look)
}

/** Of one that was drawn on a certain frame the same for all. */
async function masksDrawn(
  spec: string,
  { region: { at, maskFit, empty = [] }, target: { frames } }: Result,
  target: Plate,
): Promise<ReadonlyMap<number, Mask>> {
  if (at === undefined) return loadMasks(spec, target, [...frames, ...empty], maskFit)
  const drawn = (await loadMasks(spec, target, [at], maskFit)).get(at)!
  return onAll(frames, drawn)
}

/** One mask for all frames: what is made of it is made once. */
function onAll(frames: readonly number[], mask: Mask): ReadonlyMap<number, Mask> {
  return new Map(frames.map((frame) => [frame, mask]))
}

/** Where a mask that rides along has left the frame there is nothing to be replaced, and a patch is clear. */
function regionOf(masks: ReadonlyMap<number, Mask>, result: Result, target: Plate): Region {
  const carried = carriedAlong(masks, result, target)
  const region = makeRegion(carried, target, result.region.surround)
  if (carried === masks) return region
  return withEmpty(region)
}

/**
 * A mask that was drawn on one frame as it lies on the others, where the scenery that it covers has gone. On a target frame
 * that was not followed the camera is taken to stand as on the nearest that was, as the search has it.
 */
function carriedAlong(
  masks: ReadonlyMap<number, Mask>,
  { region: { at }, camera, target: { frames } }: Result,
  { width, height }: Plate,
): ReadonlyMap<number, Mask> {
  if (at === undefined || camera === undefined) return masks
  const poses = new Map<number, Transform>()
  for (const { plate, frame, pose } of camera.frames) if (plate === 0 && pose) poses.set(frame, pose)
  const nearest = (frame: number) =>
    [...poses.keys()].reduce((a, b) => (Math.abs(b - frame) < Math.abs(a - frame) ? b : a))
  const toGrid = poses.get(at)!
  const full = { x: 0, y: 0, w: width, h: height }
  const carried = new Map(masks)
  for (const frame of frames) {
    const fromGrid = invert(poses.get(frame) ?? poses.get(nearest(frame))!)
    carried.set(frame, moveMask(masks.get(frame)!, compose(fromGrid, toGrid), full))
  }
  return carried
}

/** The candidate of that id. @throws MISUSE with the list of ids */
export function pick(result: Result, id: string): Candidate {
  const found = result.candidates.find((c) => c.id === id)
  if (found) return found
  const ids = result.candidates.map((c) => c.id)
  const wanted =
    ids.length === 0 ? 'the id of a candidate, and this result has none' : `one of ${ids.join(', ')}`
  throw misuse('`pick`', wanted, id, { among: ids })
}
