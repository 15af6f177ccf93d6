// What a camera that moves does over a plate, for people: where the middle of the frame looks, how it rolls and zooms, where
// the shot is cut, and where it was lost.
import type { Plate } from '../footage/plate.js'
import type { Workspace } from '../kernels/workspace.js'
import type { Model } from '../match/planar-step.js'
import type { Rect } from '../raster/rect.js'
import { apply, type Transform } from '../raster/transform.js'
import { type CameraPose, type Following, followCamera } from '../track/camera/camera.js'
import { CameraFollower } from '../track/camera/follow.js'
import { type SmallFrame, smallFrames } from '../track/camera/small-frame.js'

interface CameraView {
  readonly frame: number
  /** Where the middle of its picture lies on the reference frame's pixels, from the middle of that: pixels. */
  readonly x: number
  readonly y: number
  /** Clockwise against the reference frame, degrees. */
  readonly roll: number
  /** How much larger it shows things than the reference frame does. */
  readonly zoom: number
  /** Its light against the reference frame's, stops. */
  readonly stops: number
}

export interface CameraPath {
  readonly model: Model
  readonly reference: number
  /** In order; frames that were not followed are left out. */
  readonly views: readonly CameraView[]
  readonly lost: readonly number[]
  /** First frames of another scene. */
  readonly cuts: readonly number[]
}

/** Cuts that are looked into, at most. */
const MAX_CUTS = 12

/**
 * @param window  where it is told whether the camera moves
 * @param reachPx what a camera that sways stays within, pixels
 * @returns null where the camera stands or only sways
 */
export async function* cameraPath(
  workspace: Workspace,
  plate: Plate,
  {
    reference,
    window,
    reachPx,
    signal,
  }: { reference: number; window: Rect; reachPx: number; signal?: AbortSignal },
): AsyncGenerator<Following, CameraPath | null> {
  const hidden = { rect: { x: 0, y: 0, w: 0, h: 0 }, bits: new Uint8Array(0) }
  const { camera } = yield* followCamera(workspace, {
    plates: [plate],
    reference,
    hidden,
    window,
    reachPx,
    everywhere: true,
    signal,
  })
  if (camera === null) return null
  const poses = [...camera.poses].sort((a, b) => a.frame - b.frame)
  return {
    model: camera.model,
    reference,
    views: poses.flatMap((one) => viewOf(one, plate.active)),
    lost: poses.filter(({ pose }) => pose === null).map(({ frame }) => frame),
    cuts: await cutsIn(workspace, plate, poses),
  }
}

function viewOf({ frame, pose, stops }: CameraPose, { x, y, w, h }: Rect): CameraView[] {
  if (pose === null) return []
  const middle = { x: x + (w - 1) / 2, y: y + (h - 1) / 2 }
  const to = apply(pose, middle.x, middle.y)
  const { size, turn } = turnOf(pose, middle.x, middle.y)
  // What is shown larger takes up less of the reference frame; a camera that turns clockwise turns its picture back.
  return [
    {
      frame,
      x: to.x - middle.x,
      y: to.y - middle.y,
      roll: (turn * 180) / Math.PI,
      zoom: 1 / size,
      stops: stops ?? 0,
    },
  ]
}

/** Size and turn of a transform about a place, as the similarity that comes nearest to it there. */
export function turnOf(transform: Transform, x: number, y: number): { size: number; turn: number } {
  const [right, left] = [apply(transform, x + 0.5, y), apply(transform, x - 0.5, y)]
  const [down, up] = [apply(transform, x, y + 0.5), apply(transform, x, y - 0.5)]
  const c = (right.x - left.x + down.y - up.y) / 2
  const s = (right.y - left.y - down.x + up.x) / 2
  return { size: Math.hypot(c, s), turn: Math.atan2(s, c) }
}

/** Where frames that belong together begin, next to frames that were followed and that they have nothing in common with. */
async function cutsIn(workspace: Workspace, plate: Plate, poses: readonly CameraPose[]): Promise<number[]> {
  const cuts: number[] = []
  for (let i = 1; i < poses.length && cuts.length < MAX_CUTS; i++) {
    const [before, after] = [poses[i - 1], poses[i]]
    if ((before.pose === null) === (after.pose === null)) continue
    const [known, lost, further] = before.pose === null ? [i, i - 1, i - 2] : [i - 1, i, i + 1]
    if (poses[further]?.pose !== null || poses[further] === undefined) continue
    const wanted = [lost, known, further].map((k) => poses[k].frame)
    const smalls: SmallFrame[] = []
    for await (const small of smallFrames(workspace, plate, wanted)) smalls.push(small)
    const [first, ...others] = smalls
    if (others.length < 2) continue
    const follower = CameraFollower.on(workspace, first, first.known)
    if (follower === null) continue
    const [toKnown, toFurther] = others.map((small) => follower.simplest(small))
    if (toKnown === null && toFurther !== null) cuts.push(after.frame)
  }
  return cuts
}
