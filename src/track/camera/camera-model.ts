// What kind of motion the poses of a shot come to, and whether a plate stands.
import type { Model } from '../../match/planar-step.js'
import type { Rect } from '../../raster/rect.js'
import {
  apply,
  compose,
  IDENTITY,
  invert,
  isShift,
  shift,
  shiftOf,
  type Transform,
} from '../../raster/transform.js'
import { apartOver } from './on-region.js'

/** A plate whose frames lie this near to where they would without a camera's doing, pixels, stands. */
const STANDS_PX = 0.12
/** And as much of it must have been followed for the rest to be taken to stand, too. */
const MOSTLY = 0.7
/** A simpler model will do where it puts nine frames in ten within this of where they lie, pixels over the window. */
export const MODEL_PX = 0.06
/** The same over most of a frame, whose corners are known less well. */
export const FRAME_MODEL_PX = 0.3
/** Where a frame lies, and how sure that is, pixels. */
export interface Placed {
  readonly pose: Transform
  readonly sigma: number
}

/**
 * A plate that stands is not moved at all, so that nothing of it is resampled; then its few frames that were not followed,
 * as somebody fills them, stand as well.
 */
export function settled(
  poses: ReadonlyMap<number, Placed>,
  frames: readonly number[],
  window: Rect,
): Map<number, Placed> {
  const apart = [...poses.values()].map(({ pose }) => apartOver(pose, IDENTITY, window)).sort((a, b) => a - b)
  if (apart.length === 0 || apart[Math.floor(0.9 * (apart.length - 1))] > STANDS_PX) return new Map(poses)
  const all = poses.size >= MOSTLY * frames.length ? frames : [...poses.keys()]
  const { sigma } = [...poses.values()][0]
  return new Map(all.map((frame) => [frame, { sigma, pose: IDENTITY }]))
}

/** The simplest model that puts the frames where they lie; of shifts the poses become shifts. */
export function simplest(
  poses: readonly ReadonlyMap<number, Placed>[],
  window: Rect,
  most: number,
): { model: Model; kept: readonly ReadonlyMap<number, Placed>[] } {
  const all = poses.flatMap((of) => [...of.values()])
  const fits = (near: (pose: Transform) => Transform) =>
    all.filter(({ pose }) => apartOver(pose, near(pose), window) <= most).length >= 0.9 * all.length
  const asShift = (pose: Transform): Transform => {
    if (isShift(pose)) return pose
    const { dx, dy } = shiftOf(pose, window)
    return shift(dx, dy)
  }
  if (fits(asShift)) {
    const kept = poses.map(
      (of) => new Map([...of].map(([f, one]) => [f, { ...one, pose: asShift(one.pose) }])),
    )
    return { model: 'shift', kept }
  }
  return { model: fits((pose) => similarityNear(pose, window)) ? 'similarity' : 'homography', kept: poses }
}

/** The similarity that agrees with a transform at the middle of a rectangle, in place, size and turn. */
function similarityNear(pose: Transform, { x, y, w, h }: Rect): Transform {
  const from = apply(invert(pose), x + w / 2, y + h / 2)
  const at = (u: number, v: number) => apply(pose, from.x + u, from.y + v)
  const [right, down, left, up] = [at(1, 0), at(0, 1), at(-1, 0), at(0, -1)]
  const c = (right.x - left.x + down.y - up.y) / 4
  const s = (right.y - left.y - down.x + up.x) / 4
  return compose(shift(x + w / 2, y + h / 2), compose([c, -s, 0, s, c, 0, 0, 0, 1], shift(-from.x, -from.y)))
}
