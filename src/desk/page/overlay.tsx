// What is drawn on the plate, over the picture: outlines, handles, and the same for whoever uses no pointer.
import { pathOf, pointsAt } from '../shapes.js'
import type { Shape } from '../shot-state.js'
import {
  AREAS,
  type AreaKey,
  area,
  areaKey,
  draft,
  moveSelected,
  nameOf,
  removeShape,
  select,
  selectedHandle,
  selectedId,
} from './areas.js'
import { Ghost } from './ghost.js'
import { boxRound, handlesOf } from './handles.js'
import { display, plateSize, room, view } from './looking.js'
import { frame, state, step } from './state.js'
import { unit } from './unit.js'
import { toRoom } from './view.js'

const HANDLE_PX = 5

export function Overlay() {
  const { scale, left, top } = view.value
  const { aspect } = plateSize.value
  const { w, h } = room.value
  const editing = step.value === 'region'
  if (!editing && display.value === 'patched') return null
  return (
    <svg class="overlay" width={w} height={h} viewBox={`0 0 ${w} ${h}`} aria-label="Drawn on the plate">
      <title>Drawn on the plate</title>
      <g transform={`translate(${left} ${top}) scale(${scale * aspect} ${scale})`}>
        {AREAS.map(({ key }) => (
          <Drawn areaOf={key} key={key} editing={editing} />
        ))}
      </g>
      {editing ? <Handles /> : null}
      <Ghost />
    </svg>
  )
}

function Drawn({ areaOf, editing }: { areaOf: AreaKey; editing: boolean }) {
  const mine = editing && areaOf === areaKey.value
  const shapes = mine ? area.value.shapes : (state.value?.asked[areaOf].shapes ?? [])
  if (areaOf === 'lookIn' && state.value?.asked.aim !== 'borrow') return null
  return (
    <g class={`drawn drawn-${areaOf} ${mine ? 'drawn-mine' : ''}`}>
      {shapes.map((shape) => (
        <Outline shape={shape} key={shape.id} mine={mine} />
      ))}
    </g>
  )
}

function Outline({ shape, mine }: { shape: Shape; mine: boolean }) {
  const points = pointsAt(shape, frame.value)
  const open = shape.kind === 'brush' || draft.value?.id === shape.id
  const d =
    draft.value?.id === shape.id && shape.kind === 'polygon' ? coursed(points) : pathOf(shape.kind, points)
  const classes = `${shape.cut ? 'cut' : ''} ${mine && selectedId.value === shape.id ? 'selected' : ''}`
  return (
    <g class={`${classes} ${open ? 'open' : ''}`}>
      {shape.kind === 'brush' ? (
        <path class="brush" d={d} stroke-width={shape.widthPx ?? 1} />
      ) : (
        <path class="fill" d={d} />
      )}
      <path class="under" d={d} />
      <path class="over" d={d} />
    </g>
  )
}

/** A polygon that is not closed yet. */
function coursed(points: readonly (readonly [number, number])[]): string {
  return `M${points.map(([x, y]) => `${x} ${y}`).join('L')}`
}

function Handles() {
  const shapes = area.value.shapes
  return (
    <g class="handles">
      {shapes.map((shape) => {
        const points = pointsAt(shape, frame.value)
        const [x, y, w, h] = boxRound(points)
        const at = toRoom(view.value, plateSize.value.aspect, [x + w / 2, y + h / 2])
        const where = [x, y, w, h].map((n) => Math.round(n * 10) / 10)
        const name = nameOf(shape, shapes)
        const chosen = selectedId.value === shape.id
        return (
          <>
            <Handle
              key={shape.id}
              at={at}
              kind="middle"
              chosen={chosen && selectedHandle.value === null}
              name={`${name}: x ${where[0]}, y ${where[1]}, ${where[2]} by ${where[3]} pixels`}
              onFocus={() => select(shape.id)}
              onDelete={() => removeShape(shape.id)}
            />
            {chosen && draft.value?.kind !== 'polygon'
              ? handlesOf(shape.kind, points).map((point, i) => (
                  <Handle
                    key={`${shape.id} ${i}`}
                    at={toRoom(view.value, plateSize.value.aspect, point)}
                    kind="corner"
                    chosen={selectedHandle.value === i}
                    name={`${name}, point ${i + 1}: ${Math.round(point[0] * 10) / 10}, ${Math.round(point[1] * 10) / 10}`}
                    onFocus={() => select(shape.id, i)}
                    onDelete={() => removeShape(shape.id)}
                  />
                ))
              : null}
          </>
        )
      })}
    </g>
  )
}

const ARROWS: Readonly<Record<string, readonly [number, number]>> = {
  ArrowLeft: [-1, 0],
  ArrowRight: [1, 0],
  ArrowUp: [0, -1],
  ArrowDown: [0, 1],
}

function Handle(props: {
  at: readonly [number, number]
  kind: 'middle' | 'corner'
  chosen: boolean
  name: string
  onFocus: () => void
  onDelete: () => void
}) {
  const { at, kind, chosen, name, onFocus, onDelete } = props
  const [x, y] = at
  const size = HANDLE_PX * unit()
  return (
    // biome-ignore lint/a11y/useSemanticElements: a button can't stand in a drawing
    <g
      class={`handle handle-${kind} ${chosen ? 'chosen' : ''}`}
      role="button"
      tabIndex={0}
      aria-label={`${name}. Arrows move it.`}
      onFocus={onFocus}
      onKeyDown={(event) => {
        const arrow = ARROWS[event.key]
        if (arrow && !event.ctrlKey && !event.metaKey && !event.altKey) {
          const by = event.shiftKey ? 10 : 1
          moveSelected(arrow[0] * by, arrow[1] * by)
        } else if (event.key === 'Delete' || event.key === 'Backspace') onDelete()
        else return
        event.preventDefault()
        event.stopPropagation()
      }}
    >
      {kind === 'corner' ? (
        <rect x={x - size} y={y - size} width={2 * size} height={2 * size} />
      ) : (
        <circle cx={x} cy={y} r={size} />
      )}
    </g>
  )
}
