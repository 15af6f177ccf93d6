// Drawing and dragging with the pointer: from its course over the plate to shapes. Points are plate pixels.
import { pointsAt } from '../shapes.js'
import type { Point } from '../shot-state.js'
import { area, draft, newShape, putShape, select, selectedHandle, selectedId, tool } from './areas.js'
import { movedBy, withHandleAt, withPoints } from './handles.js'
import { hitAt, simplified } from './hit.js'
import { frame } from './state.js'

/** What a pointer that went down does until it comes up. */
interface Gesture {
  move(at: Point): void
  end(): void
  /** Whether a shape that was there before was taken hold of. */
  readonly holds?: true
}

/** A slip of the hand is no shape, plate pixels. */
const MIN_PX = 1
/** How far a brush's course may be simplified, plate pixels. */
const COURSE_OFF_PX = 0.25
/** A schema's limit on the points of a shape. */
const MAX_POINTS = 4000

let gesture: Gesture | null = null

/** @param reach plate pixels within which a handle or a line is met */
export function pointerDown(at: Point, reach: number): void {
  gesture = begun(at, reach)
}

export function pointerMove(at: Point): void {
  if (gesture) gesture.move(at)
  else if (draft.value?.kind === 'polygon') followPolygon(at)
}

/** @returns whether a shape was taken hold of, so that the next keys are meant for it */
export function pointerUp(): boolean {
  const holds = gesture?.holds === true
  gesture?.end()
  gesture = null
  return holds
}

/** Leaves off what is being drawn. Tells whether anything was. */
export function cancelDrawing(): boolean {
  const any = draft.value !== null
  gesture = null
  draft.value = null
  return any
}

function begun(at: Point, reach: number): Gesture | null {
  // A shape's handle is met with any tool: whoever drew it wants to put it right without changing tools.
  const hit = draft.value ? null : hitAt(area.value.shapes, frame.value, selectedId.value, at, reach)
  if (hit && (tool.value === 'select' || hit.handle !== null)) return dragging(hit.shape, hit.handle, at)
  switch (tool.value) {
    case 'select':
      select(null)
      return null
    case 'box':
    case 'ellipse':
      return stretching(tool.value, at)
    case 'brush':
      return brushing(at)
    case 'polygon':
      clickPolygon(at, reach)
      return null
  }
}

function dragging(id: string, handle: number | null, from: Point): Gesture {
  select(id, handle)
  const shape = area.value.shapes.find((each) => each.id === id)!
  const points = pointsAt(shape, frame.value)
  return {
    move([x, y]) {
      const next =
        handle === null
          ? movedBy(points, x - from[0], y - from[1])
          : withHandleAt(shape.kind, points, handle, [x, y])
      draft.value = withPoints(shape, frame.value, next)
    },
    end: commit,
    holds: true,
  }
}

function stretching(kind: 'box' | 'ellipse', from: Point): Gesture {
  const shape = newShape(kind, [from, from])
  return {
    move(at) {
      draft.value = { ...shape, keys: [{ ...shape.keys[0], points: [from, at] }] }
    },
    end() {
      const [a, b] = draft.value?.keys[0].points ?? []
      if (a && b && Math.abs(a[0] - b[0]) >= MIN_PX && Math.abs(a[1] - b[1]) >= MIN_PX) commit()
      else cancelDrawing()
    },
  }
}

function brushing(from: Point): Gesture {
  const course: Point[] = [from]
  const shape = newShape('brush', course)
  draft.value = shape
  select(shape.id)
  return {
    move(at) {
      course.push(at)
      draft.value = { ...shape, keys: [{ ...shape.keys[0], points: [...course] }] }
    },
    end() {
      const points = simplified(course, COURSE_OFF_PX).slice(0, MAX_POINTS)
      draft.value = { ...shape, keys: [{ ...shape.keys[0], points }] }
      commit()
    },
  }
}

/** A corner is added; a click on the first one closes the polygon. The last point follows the pointer. */
function clickPolygon(at: Point, reach: number): void {
  const known = draft.value
  if (known?.kind !== 'polygon') {
    draft.value = newShape('polygon', [at, at])
    return
  }
  const points = known.keys[0].points
  const [x, y] = points[0]
  const last = points[points.length - 2]
  // The second half of a double click.
  if (Math.hypot(at[0] - last[0], at[1] - last[1]) < MIN_PX) return
  if (points.length > 3 && Math.hypot(at[0] - x, at[1] - y) <= reach) closePolygon()
  else setCourse([...points.slice(0, -1), at, at])
}

function followPolygon(at: Point): void {
  setCourse([...draft.value!.keys[0].points.slice(0, -1), at])
}

function setCourse(points: Point[]): void {
  const shape = draft.value!
  draft.value = { ...shape, keys: [{ ...shape.keys[0], points }] }
}

/** Closes what was clicked so far; with fewer than three corners nothing is left. */
export function closePolygon(): boolean {
  const shape = draft.value
  if (shape?.kind !== 'polygon' || gesture) return false
  const corners = shape.keys[0].points.slice(0, -1)
  if (corners.length < 3) return cancelDrawing()
  setCourse(corners)
  commit()
  return true
}

/** Takes the corner that was clicked last away again. */
export function takeBackCorner(): boolean {
  const shape = draft.value
  if (shape?.kind !== 'polygon' || gesture) return false
  const points = shape.keys[0].points
  if (points.length <= 2) return cancelDrawing()
  setCourse([...points.slice(0, -2), points[points.length - 1]])
  return true
}

function commit(): void {
  const shape = draft.value
  draft.value = null
  if (!shape) return
  const handle = selectedHandle.value
  putShape(shape)
  select(shape.id, handle)
}
