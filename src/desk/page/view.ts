// How the plate lies in its room on the screen: zoom and place, and the way from one's pixels to the other's.
import type { Point } from '../shot-state.js'

/** CSS pixels. */
export interface Room {
  readonly w: number
  readonly h: number
}

/** Of a plate; `aspect` is how wide a pixel is, its height being 1. */
export interface PlateSize {
  readonly width: number
  readonly height: number
  readonly aspect: number
}

/** `scale`: CSS pixels to a line of the plate. `left`, `top`: where its corner lies, CSS pixels. */
export interface View {
  readonly scale: number
  readonly left: number
  readonly top: number
}

/** Largest and smallest scale, so that nobody loses the plate. */
const MAX_SCALE = 64
const MIN_SCALE = 1 / 64
/** At least so much of the plate stays in the room, CSS pixels. */
const KEPT_PX = 40

/** All of the plate, in the middle of the room. */
export function fitted(room: Room, plate: PlateSize): View {
  const scale = Math.min(room.w / (plate.width * plate.aspect), room.h / plate.height)
  return centred(room, plate, scale > 0 ? scale : 1)
}

/** The plate at a scale with its middle in the room's. */
export function centred(room: Room, plate: PlateSize, scale: number): View {
  return {
    scale,
    left: (room.w - plate.width * plate.aspect * scale) / 2,
    top: (room.h - plate.height * scale) / 2,
  }
}

/** Nearer or further: what lies under the point `at` (CSS pixels) stays there. */
export function zoomedAt(view: View, factor: number, [x, y]: Point): View {
  const scale = Math.min(MAX_SCALE, Math.max(MIN_SCALE, view.scale * factor))
  const by = scale / view.scale
  return { scale, left: x - (x - view.left) * by, top: y - (y - view.top) * by }
}

/** Pushed by so many CSS pixels, but never out of the room. */
export function pushed(view: View, room: Room, plate: PlateSize, dx: number, dy: number): View {
  const within = (at: number, length: number, space: number) =>
    Math.min(space - KEPT_PX, Math.max(KEPT_PX - length, at))
  return {
    scale: view.scale,
    left: within(view.left + dx, plate.width * plate.aspect * view.scale, room.w),
    top: within(view.top + dy, plate.height * view.scale, room.h),
  }
}

/** Plate pixels of a place in the room. */
export function toPlate(view: View, aspect: number, [x, y]: Point): Point {
  return [(x - view.left) / (view.scale * aspect), (y - view.top) / view.scale]
}

/** Place in the room of plate pixels. */
export function toRoom(view: View, aspect: number, [x, y]: Point): Point {
  return [view.left + x * view.scale * aspect, view.top + y * view.scale]
}

/** The whole pixels of the plate that the room shows, `[x, y, w, h]`; null where it shows none. */
export function seen(
  view: View,
  room: Room,
  { width, height, aspect }: PlateSize,
): readonly [number, number, number, number] | null {
  const [x0, y0] = toPlate(view, aspect, [0, 0])
  const [x1, y1] = toPlate(view, aspect, [room.w, room.h])
  const [left, top] = [Math.max(0, Math.floor(x0)), Math.max(0, Math.floor(y0))]
  const [right, bottom] = [Math.min(width, Math.ceil(x1)), Math.min(height, Math.ceil(y1))]
  return right > left && bottom > top ? [left, top, right - left, bottom - top] : null
}
