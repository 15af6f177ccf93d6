// The three areas that can be drawn, the tool in hand, and what is selected.
import { computed, signal } from '@preact/signals'
import { pointsAt } from '../shapes.js'
import type { Area, Point, Shape } from '../shot-state.js'
import { handlesOf, keyed, movedBy, unkeyed, withHandleAt, withPoints } from './handles.js'
import { ask, frame, state } from './state.js'

export const AREAS = [
  { key: 'region', name: 'Region', says: 'what has to go' },
  { key: 'avoid', name: 'Avoid', says: 'never to be followed, compared or lent: actors, say' },
  { key: 'lookIn', name: 'Look in', says: 'the surface to hunt on' },
] as const
export type AreaKey = (typeof AREAS)[number]['key']

export const TOOLS = [
  { tool: 'select', name: 'Select', key: 's' },
  { tool: 'box', name: 'Box', key: 'b' },
  { tool: 'ellipse', name: 'Ellipse', key: 'e' },
  { tool: 'polygon', name: 'Polygon', key: 'p' },
  { tool: 'brush', name: 'Brush', key: 'r' },
] as const
export type Tool = (typeof TOOLS)[number]['tool']

export const areaKey = signal<AreaKey>('region')
export const tool = signal<Tool>('box')
/** What is drawn next is taken away from what was drawn before. */
export const cutting = signal(false)
export const brushPx = signal(24)
/** Whether the pointer pushes the plate about instead of drawing. */
export const hand = signal(false)

export const selectedId = signal<string | null>(null)
export const selectedHandle = signal<number | null>(null)

/** What is being drawn or dragged and not yet done. */
export const draft = signal<Shape | null>(null)

const EMPTY: Area = { shapes: [], file: null }

/** The area that is worked on, with what is being dragged where it is. */
export const area = computed<Area>(() => {
  const known = state.value?.asked[areaKey.value] ?? EMPTY
  const dragged = draft.value
  if (!dragged) return known
  const there = known.shapes.some(({ id }) => id === dragged.id)
  const shapes = there
    ? known.shapes.map((shape) => (shape.id === dragged.id ? dragged : shape))
    : [...known.shapes, dragged]
  return { ...known, shapes }
})

export const selected = computed<Shape | null>(
  () => area.value.shapes.find(({ id }) => id === selectedId.value) ?? null,
)

export function select(id: string | null, handle: number | null = null): void {
  selectedId.value = id
  selectedHandle.value = handle
}

/** "Box 2": by its kind and its place among all of the area. */
export function nameOf(shape: Shape, shapes: readonly Shape[]): string {
  const place = shapes.findIndex(({ id }) => id === shape.id) + 1
  const kind = shape.kind.charAt(0).toUpperCase() + shape.kind.slice(1)
  return `${kind} ${place}${shape.cut ? ', cut' : ''}`
}

export function newShape(kind: Shape['kind'], points: readonly Point[]): Shape {
  return {
    id: crypto.randomUUID().slice(0, 8),
    kind,
    cut: cutting.value,
    ...(kind === 'brush' ? { widthPx: brushPx.value } : {}),
    keys: [{ frame: frame.value, points: [...points] }],
  }
}

/** Puts shapes into the area that is worked on. @param run see `ask` */
export function setShapes(shapes: readonly Shape[], run: string | null = null): void {
  // What is drawn takes the place of a file.
  ask({ [areaKey.value]: { shapes: [...shapes], file: null } }, run)
}

function known(): readonly Shape[] {
  return state.value?.asked[areaKey.value].shapes ?? []
}

/** Adds a shape or puts it in the place of the one with its id. */
export function putShape(shape: Shape, run: string | null = null): void {
  const shapes = known()
  const there = shapes.some(({ id }) => id === shape.id)
  setShapes(there ? shapes.map((each) => (each.id === shape.id ? shape : each)) : [...shapes, shape], run)
  select(shape.id, selectedHandle.value)
}

export function removeShape(id: string): void {
  setShapes(known().filter((shape) => shape.id !== id))
  select(null)
}

/** Moves what is selected, a handle or the whole shape, plate pixels. */
export function moveSelected(dx: number, dy: number): void {
  const shape = selected.value
  if (!shape) return
  const points = pointsAt(shape, frame.value)
  putShape(withPoints(shape, frame.value, movedPart(shape, points, dx, dy)), `move ${shape.id}`)
}

function movedPart(shape: Shape, points: readonly Point[], dx: number, dy: number): Point[] {
  const handle = selectedHandle.value
  if (handle === null || shape.kind === 'brush') return movedBy(points, dx, dy)
  const corners = handlesOf(shape.kind, points)
  const [x, y] = corners[handle] ?? corners[0]
  return withHandleAt(shape.kind, points, handle, [x + dx, y + dy])
}

/** A key of the selected shape on this frame, or no longer one. */
export function toggleKey(): void {
  const shape = selected.value
  if (!shape) return
  const here = shape.keys.some((key) => key.frame === frame.value)
  putShape(here ? unkeyed(shape, frame.value) : keyed(shape, frame.value))
}
