// A shot whose camera moves, seen as if it stood: all frames lie on one frame's pixels (the common grid), and so does the
// region. The search runs on that; what it finds is put back into the plates' own pixels at the end.
import { OffcutError } from '../errors.js'
import { framesInWords, printFrames } from '../footage/frames.js'
import { laidOn, type Plate } from '../footage/plate.js'
import type { Workspace } from '../kernels/workspace.js'
import { HELD_SIGMA } from '../match/align.js'
import {
  apply,
  compose,
  IDENTITY,
  invert,
  type Offset,
  placementOf,
  scaledToOne,
  type Transform,
  transformOf,
} from '../raster/transform.js'
import { grownMasks } from '../region/grow.js'
import type { Mask } from '../region/mask.js'
import { moveMask } from '../region/move-mask.js'
import { makeRegion, type Region, support } from '../region/region.js'
import { type FrameKey, keyOf } from '../shot/frame-key.js'
import { namesApart } from '../shot/names-apart.js'
import type { Shot } from '../shot/open-shot.js'
import { type Camera, type CameraPose, followCamera } from '../track/camera/camera.js'
import { shareSeen } from '../track/camera/on-region.js'
import { inWords } from '../turns.js'
import type { CameraFollowed } from './events.js'
import type { Candidate, Cut, LightFieldEntry, Result } from './result.js'

/** What is left to look for where frames lie already, pixels. */
const LAID_REACH_PX = 2
/** A frame that shows less of the region and its surround than this lends nothing. */
const MIN_SEEN = 0.25

export interface LaidShot {
  /** To search on. */
  readonly shot: Shot
  /** Null where it stands, and other plates show another place: those lend nothing. */
  readonly camera: Camera | null
  /** Said to the user. */
  readonly notes: readonly string[]
  /** Why nothing holds up without a look; null: the camera was followed on all target frames. */
  readonly doubt: string | null
}

/**
 * @returns null where the cameras of all plates stand or only sway within the reach
 * @throws PLATE_SIZE where a plate has another size and nothing tells how it lies on the target's
 */
export async function* laidShot(
  workspace: Workspace,
  shot: Shot,
  signal?: AbortSignal,
): AsyncGenerator<CameraFollowed, LaidShot | null> {
  const { plates, frames, region, reach, request } = shot
  const reference = request.maskAt ?? frames[frames.length >> 1]
  const mask = region.frames.get(reference) ?? region.frames.get(frames[frames.length >> 1])!
  const hidden = { rect: region.window, bits: support(mask.inside) }
  const following = followCamera(workspace, {
    plates,
    reference,
    hidden,
    window: region.window,
    reachPx: reach,
    signal,
  })
  const { camera, elsewhere } = yield* inWords(following, (how) => ({ kind: 'followed' as const, ...how }))
  const strange = elsewhere.map((plate) => strangeNote(plates, plate))
  if (camera === null && elsewhere.length > 0) {
    const [target, ...others] = plates
    const nothing = (plate: Plate) => laidOn(plate, new Map(), target)
    return {
      shot: {
        ...shot,
        plates: [target, ...others.map((plate, k) => (elsewhere.includes(k + 1) ? nothing(plate) : plate))],
        donors: shot.donors.filter(({ plate }) => !elsewhere.includes(plate)),
      },
      camera,
      notes: strange,
      doubt: null,
    }
  }
  if (camera === null) {
    const other = plates.find((p) => p.width !== plates[0].width || p.height !== plates[0].height)
    if (other === undefined) return null
    const name = namesApart(plates)[plates.indexOf(other)]
    const sizes = `${name} is ${other.width} x ${other.height}, the target plate is ${plates[0].width} x ${plates[0].height}`
    throw new OffcutError(
      'PLATE_SIZE',
      `${sizes}, and nothing outside the mask tells how the two lie on each other: give donors of the target's size`,
      2,
    )
  }
  const poses = plates.map(() => new Map<number, Transform>())
  const lost: number[] = []
  const isTarget = new Set(frames)
  const unheld = plates.map((): number[] => [])
  const out = plates.map((): number[] => [])
  for (const { plate, frame, pose, sigma } of camera.poses) {
    if (pose !== null && sigma <= HELD_SIGMA) {
      if (shareSeen(plates[plate], pose, region.window) >= MIN_SEEN || (plate === 0 && isTarget.has(frame)))
        poses[plate].set(frame, pose)
      else out[plate].push(frame)
    } else if (plate === 0 && isTarget.has(frame)) lost.push(frame)
    else unheld[plate].push(frame)
  }
  // A target frame that was lost is taken to lie as its nearest neighbour does; nothing is called good on it.
  for (const frame of lost) {
    const known = [...poses[0].keys()].sort((a, b) => Math.abs(a - frame) - Math.abs(b - frame))
    if (known.length > 0) poses[0].set(frame, poses[0].get(known[0])!)
  }
  const grid = plates[0]
  const laid = plates.map((plate, i) => laidOn(plate, poses[i], grid))
  const onGrid = regionOnGrid(shot, poses[0])
  const may = new Set(camera.poses.filter(({ plate, frame }) => poses[plate].has(frame)).map(keyOf))
  const found: Shot = {
    ...shot,
    plates: [laid[0], ...laid.slice(1)],
    frames: [...onGrid.frames.keys()],
    donors: shot.donors.filter((key) => may.has(keyOf(key))),
    region: onGrid,
    reach: Math.min(reach, LAID_REACH_PX),
  }
  return {
    shot: found,
    camera,
    notes: [...strange, ...notesOf(shot, camera, elsewhere, unheld, out)],
    doubt: doubtOf(lost),
  }
}

function doubtOf(lost: readonly number[]): string | null {
  if (lost.length === 0) return null
  const which = framesInWords(lost)
  return `the camera was not followed on ${which}: look whether the patch stays on the scenery there`
}

function strangeNote(plates: readonly Plate[], plate: number): string {
  const names = namesApart(plates)
  return `${names[plate]} shows another place than ${names[0]}, or too little of it: none of it lends`
}

function notesOf(
  { plates, request, frames, masks }: Shot,
  { poses, reference }: Camera,
  elsewhere: readonly number[],
  unheld: readonly (readonly number[])[],
  out: readonly (readonly number[])[],
): string[] {
  const said: string[] = []
  for (const [i, name] of namesApart(plates).entries()) {
    if (elsewhere.includes(i)) continue
    if (unheld[i].length > 0)
      said.push(`the camera of ${name} was not followed on ${printFrames(unheld[i])}: they lend nothing`)
    if (out[i].length > 0) said.push(`${name} does not see the region on ${printFrames(out[i])}`)
  }
  const targets = poses.filter(({ plate, frame }) => plate === 0 && frames.includes(frame))
  const still = request.maskAt === undefined && new Set(masks.values()).size === 1
  if (still && slides(targets)) {
    said.push(
      `the camera moves over the target frames and the mask stays where it is in the frame: say on which frame it was drawn (--mask-at ${reference}, for example), and it stays on the scenery`,
    )
  }
  return said
}

/** True where the scenery moves by more than two pixels over some frames. */
function slides(poses: readonly CameraPose[]): boolean {
  const offsets = poses.flatMap(({ pose }) => (pose === null ? [] : [apply(pose, 0, 0)]))
  const spread = (of: (p: { x: number; y: number }) => number) =>
    Math.max(...offsets.map(of)) - Math.min(...offsets.map(of))
  return (
    offsets.length > 1 &&
    Math.max(
      spread((p) => p.x),
      spread((p) => p.y),
    ) > 2
  )
}

/** The region where it lies on the grid, frame by frame. */
function regionOnGrid(
  { request, plates: [target], masks, frames, surround }: Shot,
  poses: ReadonlyMap<number, Transform>,
): Region {
  const grown = grownMasks(masks, request.grow, target)
  const full = { x: 0, y: 0, w: target.width, h: target.height }
  const moved = new Map<number, Mask>()
  for (const frame of frames) {
    const mask = grown.get(frame)!
    // Drawn on the reference frame it lies on the grid as it is, for all frames alike.
    moved.set(frame, request.maskAt === undefined ? moveMask(mask, poses.get(frame)!, full) : mask)
  }
  return makeRegion(moved, target, surround)
}

/**
 * A candidate that was found on the grid, in the pixels of the plates.
 *
 * @param shot   that it was found on
 * @param camera null where it stands
 */
export function inPlateTerms<C extends Candidate>(candidate: C, shot: Shot, camera: Camera | null): C {
  const known = new Map(
    (camera?.poses ?? []).flatMap((one) => (one.pose ? [[keyOf(one), one.pose] as const] : [])),
  )
  const poseOf = (key: FrameKey) =>
    known.get(keyOf(key)) ?? shot.plates[key.plate].laid?.poses.get(key.frame) ?? IDENTITY
  const { x, y, w, h } = shot.region.box
  const middle = { x: x + (w - 1) / 2, y: y + (h - 1) / 2 }
  const frames = candidate.frames.map((match) => {
    const toTarget = invert(poseOf({ plate: 0, frame: match.target }))
    const there = apply(toTarget, middle.x, middle.y)
    const about = { x: there.x, y: there.y, w: 1, h: 1 }
    const placed = <T extends Offset & { readonly transform?: Transform; readonly field?: LightFieldEntry }>(
      of: T,
      from: Transform,
    ): T => ({
      ...of,
      ...noted(placementOf(compose(toTarget, compose(transformOf(of), from)), about)),
      ...(of.field ? { field: fieldOn(of.field, toTarget) } : {}),
    })
    const { stack, pieces, map, quiet } = match
    const moment = candidate.moment
    return {
      ...placed(match, poseOf({ plate: match.plate, frame: match.donor })),
      ...(stack ? { stack: stack.map((share) => placed(share, poseOf(share))) } : {}),
      ...(pieces ? { pieces: pieces.map((share) => placed(share, poseOf(share))) } : {}),
      ...(map ? { map: placed(map, IDENTITY) } : {}),
      ...(quiet && moment
        ? { quiet: placed(quiet, poseOf({ plate: moment.donor, frame: moment.peak })) }
        : {}),
    }
  })
  const { moment } = candidate
  if (moment?.quietState === undefined) return { ...candidate, frames }
  const toPeak = invert(poseOf({ plate: moment.donor, frame: moment.peak }))
  const there = apply(toPeak, middle.x, middle.y)
  const quietState = moment.quietState.map((share) => ({
    ...share,
    ...noted(
      placementOf(compose(toPeak, compose(transformOf(share), poseOf(share))), {
        x: there.x,
        y: there.y,
        w: 1,
        h: 1,
      }),
    ),
  }))
  return { ...candidate, frames, moment: { ...moment, quietState } }
}

/** A field of light rides along with its place. It is too smooth for the camera's roll to show in it. */
function fieldOn(field: LightFieldEntry, toTarget: Transform): LightFieldEntry {
  const { x, y } = apply(toTarget, field.x, field.y)
  const end = apply(toTarget, field.x + field.span, field.y)
  return { ...field, x, y, span: Math.hypot(end.x - x, end.y - y) }
}

/** Ten digits are a hundredth of a thousandth of a pixel at 8K. */
function noted({
  dx,
  dy,
  transform,
}: ReturnType<typeof placementOf>): Offset & { transform?: [...Transform] } {
  const short = (v: number) => Number(v.toPrecision(12))
  return {
    dx: Number(dx.toFixed(4)),
    dy: Number(dy.toFixed(4)),
    ...(transform ? { transform: scaledToOne(transform).map(short) as unknown as [...Transform] } : {}),
  }
}

/** Where something crosses a mask's edge, in the pixels of the target frames that it was found on. */
export function cutsInPlateTerms(cuts: readonly Cut[], { camera, shot: { plates } }: LaidShot): Cut[] {
  if (camera === null) return [...cuts]
  const poses = new Map(
    camera.poses.flatMap(({ plate, frame, pose }) => (plate === 0 && pose ? [[frame, pose]] : [])),
  )
  const { width, height } = plates[0].laid!.plate
  return cuts.map((cut) => ({
    ...cut,
    frames: cut.frames.map((one) => {
      const back = invert(poses.get(one.frame) ?? IDENTITY)
      const [x, y, w, h] = one.box
      const corners = [x, x + w].flatMap((u) => [y, y + h].map((v) => apply(back, u, v)))
      const ends = (of: (c: { x: number; y: number }) => number, most: number) => {
        const low = Math.floor(Math.min(...corners.map(of)))
        const high = Math.ceil(Math.max(...corners.map(of)))
        const from = Math.min(Math.max(0, low), most - 1)
        return [from, Math.max(1, Math.min(most, high) - from)]
      }
      const [[left, across], [top, down]] = [ends((c) => c.x, width), ends((c) => c.y, height)]
      return { ...one, box: [left, top, across, down] as [number, number, number, number] }
    }),
  }))
}

/** As result.json holds it. */
export function cameraEntry({ model, reference, poses }: Camera): NonNullable<Result['camera']> {
  return {
    model,
    reference,
    frames: poses.map(({ plate, frame, pose, sigma }) => ({
      plate,
      frame,
      pose: pose && ([...pose] as NonNullable<Result['camera']>['frames'][number]['pose']),
      sigma: Number.isFinite(sigma) ? Number(sigma.toFixed(4)) : null,
    })),
  }
}
