// Where each frame looks on the common grid, as lines to be drawn.
import { subsampleToEnds } from '../../match/subsample.js'
import { rectOf } from '../../raster/rect.js'
import { apply, invert, type Transform } from '../../raster/transform.js'
import type { Camera, Result } from '../../search/result.js'

type Pose = Camera['frames'][number]
interface Point {
  readonly x: number
  readonly y: number
}

/** SVG path data in units of the drawing. */
export interface CameraPath {
  readonly width: number
  readonly height: number
  /** Outlines of some frames: those of other takes, those of the target's plate, and those of the range to be repaired. */
  readonly takes: string
  readonly frames: string
  readonly targets: string
  /** From middle to middle of the target plate's frames, broken where the camera was not followed. */
  readonly path: string
  /** Middles of frames that see all of the region, and of those that do not; a take's, too. */
  readonly seeing: string
  readonly blind: string
  readonly region: string | null
  /** First and last frame that was followed, of the target's plate. */
  readonly ends: readonly (Point & { readonly frame: number })[]
}

/** Outlines drawn per plate: more run into one grey. */
const MAX_OUTLINES = 16
/** Room round it all, units of the drawing. */
const ROOM = 10
/** A frame that lies further out than so many frames is not drawn: beside it the others would be a dot. */
const MAX_AWAY = 8

/** A corner that lies on a frame's edge is within it. */
const ROUNDING = 1e-6

/** How much of the region a frame has within it; null where it was not followed, or where the region lies is unknown. */
export function seenOn(result: Result, { plate, pose }: Pose): 'all' | 'part' | 'none' | null {
  const region = regionOnGrid(result)
  if (region === null || pose === null) return null
  const { width, height } = sizeOf(result, plate)
  const back = invert(pose)
  // How far inside the frame's edge each corner lies, pixels.
  const depths = region.map((p) => {
    const { x, y } = apply(back, p.x, p.y)
    return Math.min(x + 0.5, y + 0.5, width - 0.5 - x, height - 0.5 - y)
  })
  if (depths.every((depth) => depth > -ROUNDING)) return 'all'
  return depths.some((depth) => depth > ROUNDING) ? 'part' : 'none'
}

/**
 * Null where the camera stands, and where no frame was followed.
 *
 * @param most the drawing's largest width and height
 */
export function cameraPath(result: Result, most: { width: number; height: number }): CameraPath | null {
  const { camera, target } = result
  if (camera === undefined) return null
  const followed = camera.frames.flatMap((of) => {
    const corners = of.pose && cornersOf(of.pose, sizeOf(result, of.plate))
    return corners && isNear(corners, target)
      ? [{ of, corners, middle: middleOf(of.pose!, sizeOf(result, of.plate)) }]
      : []
  })
  if (followed.length === 0) return null
  const region = regionOnGrid(result)
  const { scale, left, top, width, height } = fitted(
    [...followed.flatMap((f) => f.corners), ...(region ?? [])],
    most,
  )
  const unit = ({ x, y }: Point): Point => ({ x: (x - left) * scale + ROOM, y: (y - top) * scale + ROOM })
  const isTarget = new Set(target.frames)
  const outlines = (chosen: typeof followed) =>
    subsampleToEnds(chosen, MAX_OUTLINES)
      .map(({ corners }) => closed(corners.map(unit)))
      .join('')
  const own = followed.filter(({ of }) => of.plate === 0)
  const dots = (chosen: typeof followed) => chosen.map(({ middle }) => `M${written(unit(middle))}h0`).join('')
  const seeing = followed.filter(({ of }) => seenOn(result, of) === 'all')
  const ends = own.length === 0 ? [] : own.length === 1 ? [own[0]] : [own[0], own[own.length - 1]]
  return {
    width,
    height,
    takes: outlines(followed.filter(({ of }) => of.plate !== 0)),
    frames: outlines(own.filter(({ of }) => !isTarget.has(of.frame))),
    targets: outlines(own.filter(({ of }) => isTarget.has(of.frame))),
    path: brokenLine(
      own.map(({ of, middle }) => ({ frame: of.frame, at: unit(middle) })),
      camera,
    ),
    seeing: dots(seeing),
    blind: dots(followed.filter((f) => !seeing.includes(f))),
    region: region && closed(region.map(unit)),
    ends: ends.map(({ of, middle }) => ({ frame: of.frame, ...unit(middle) })),
  }
}

/** The region's corners where the mask was drawn, else as the middle of the range has it. */
function regionOnGrid({ camera, region, target }: Result): readonly Point[] | null {
  const frame = region.at ?? target.frames[target.frames.length >> 1]
  const pose = camera?.frames.find((f) => f.plate === 0 && f.frame === frame)?.pose
  if (!pose) return null
  const { x, y, w, h } = rectOf(region.box)
  return cornersOf(pose, { width: w, height: h }, { x, y })
}

function sizeOf({ target, donors }: Result, plate: number): { width: number; height: number } {
  const [width, height] = donors[plate].size ?? [target.width, target.height]
  return { width, height }
}

function cornersOf(
  pose: Transform,
  { width, height }: { width: number; height: number },
  from: Point = { x: 0, y: 0 },
): Point[] {
  const [x, y] = [from.x - 0.5, from.y - 0.5]
  return [
    apply(pose, x, y),
    apply(pose, x + width, y),
    apply(pose, x + width, y + height),
    apply(pose, x, y + height),
  ]
}

function middleOf(pose: Transform, { width, height }: { width: number; height: number }): Point {
  return apply(pose, (width - 1) / 2, (height - 1) / 2)
}

function isNear(corners: readonly Point[], { width, height }: { width: number; height: number }): boolean {
  return corners.every(({ x, y }) => Math.abs(x) < MAX_AWAY * width && Math.abs(y) < MAX_AWAY * height)
}

function fitted(points: readonly Point[], most: { width: number; height: number }) {
  const xs = points.map(({ x }) => x)
  const ys = points.map(({ y }) => y)
  const [left, top] = [Math.min(...xs), Math.min(...ys)]
  const [wide, high] = [Math.max(...xs) - left, Math.max(...ys) - top]
  const scale = Math.min((most.width - 2 * ROOM) / wide, (most.height - 2 * ROOM) / high)
  return {
    left,
    top,
    scale,
    width: Math.ceil(wide * scale + 2 * ROOM),
    height: Math.ceil(high * scale + 2 * ROOM),
  }
}

/** A new start after frames that were not followed. */
function brokenLine(points: readonly { frame: number; at: Point }[], { frames }: Camera): string {
  const lost = frames.filter((f) => f.plate === 0 && f.pose === null).map((f) => f.frame)
  return points
    .map(({ frame, at }, i) => {
      const before = points[i - 1]?.frame
      const gap = before === undefined || lost.some((f) => f > before && f < frame)
      return `${gap ? 'M' : 'L'}${written(at)}`
    })
    .join('')
}

function closed(points: readonly Point[]): string {
  return `M${points.map(written).join('L')}Z`
}

function written({ x, y }: Point): string {
  return `${x.toFixed(1)} ${y.toFixed(1)}`
}
