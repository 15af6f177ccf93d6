// The searched surface of a borrow at its place: dragged, or moved by the arrow keys, it sets the 2D offset.
import { signal } from '@preact/signals'
import { pathOf } from '../shapes.js'
import type { Point } from '../shot-state.js'
import { plateSize, view } from './looking.js'
import { ghostOf } from './placing.js'
import { ask, frame, state, step } from './state.js'
import { unit } from './unit.js'
import { toRoom } from './view.js'

/** While it is dragged. */
const dragged = signal<Point | null>(null)
const SIZE_PX = 9

const ARROWS: Readonly<Record<string, Point>> = {
  ArrowLeft: [-1, 0],
  ArrowRight: [1, 0],
  ArrowUp: [0, -1],
  ArrowDown: [0, 1],
}

/** To a hundredth of a pixel, which is as fine as anybody moves it. */
function setOffset([dx, dy]: Point, run: string | null): void {
  ask({ offset: [Math.round(dx * 100) / 100, Math.round(dy * 100) / 100] }, run, 'search')
}

export function Ghost() {
  const asked = state.value?.asked
  if (asked?.aim !== 'borrow' || step.value !== 'search') return null
  const ghost = ghostOf(dragged.value ? { ...asked, offset: [...dragged.value] } : asked, frame.value)
  if (!ghost) return null
  const { scale, left, top } = view.value
  const { aspect } = plateSize.value
  const [x, y] = toRoom(view.value, aspect, ghost.middle)
  const [dx, dy] = ghost.offset
  const size = SIZE_PX * unit()
  return (
    <>
      <g class="ghost" transform={`translate(${left} ${top}) scale(${scale * aspect} ${scale})`}>
        {ghost.shapes.map(({ kind, points }, i) => (
          <g key={i}>
            <path class="under" d={pathOf(kind, points)} />
            <path class="over" d={pathOf(kind, points)} />
          </g>
        ))}
      </g>
      {/* biome-ignore lint/a11y/useSemanticElements: a button can't stand in a drawing */}
      <g
        class="handle handle-place"
        role="button"
        tabIndex={0}
        aria-label={`What is borrowed lies ${Math.round(dx)} right, ${Math.round(dy)} down of where it is. Arrows move it.`}
        onPointerDown={(event) => {
          event.stopPropagation()
          event.currentTarget.setPointerCapture(event.pointerId)
          dragged.value = ghost.offset
        }}
        onPointerMove={(event) => {
          if (!dragged.value) return
          const [px, py] = dragged.value
          dragged.value = [px + event.movementX / (scale * aspect), py + event.movementY / scale]
        }}
        onPointerUp={() => {
          if (dragged.value) setOffset(dragged.value, null)
          dragged.value = null
        }}
        onKeyDown={(event) => {
          const arrow = ARROWS[event.key]
          if (!arrow || event.ctrlKey || event.metaKey || event.altKey) return
          event.preventDefault()
          event.stopPropagation()
          const by = event.shiftKey ? 10 : 1
          setOffset([dx + arrow[0] * by, dy + arrow[1] * by], 'offset')
        }}
      >
        <circle cx={x} cy={y} r={size} />
        <path d={`M${x - size / 2} ${y}h${size}M${x} ${y - size / 2}v${size}`} />
      </g>
    </>
  )
}
