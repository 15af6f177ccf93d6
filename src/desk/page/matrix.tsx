// The match matrix as it fills in: target frames down, donor frames across, lighter is more alike.
import { signal, useSignalEffect } from '@preact/signals'
import { useRef } from 'preact/hooks'
import { comparable } from './comparable.js'
import { cell, display, show } from './looking.js'
import { ask, candidate, goTo, type Row, state, step, told } from './state.js'

const HEIGHT = 120
/** The cell that is pointed at or walked to by keys: index of its row and its donor. */
const at = signal<readonly [row: number, column: number] | null>(null)

/** The hold and the run that a cell stands for, as `--try` takes them. */
function triesOf(target: number, donor: number): string[] {
  const offset = donor - target
  return [`hold-${donor}`, `run${offset < 0 ? '' : '+'}${offset}`]
}

export function Matrix() {
  const canvas = useRef<HTMLCanvasElement>(null)
  const rows = [...(told.value.rows ?? new Map<number, Row>())].sort(([a], [b]) => a - b)
  useSignalEffect(() => {
    const sorted = [...(told.value.rows ?? new Map<number, Row>())].sort(([a], [b]) => a - b)
    if (canvas.current) draw(canvas.current, sorted, at.value)
  })
  if (rows.length === 0) return null
  if (!comparable(rows)) return <p class="note">No other frame could be compared with the target.</p>
  const columns = Math.max(...rows.map(([, { donors }]) => donors.length))
  const pairs = rows.length * columns
  const known = rows.reduce((sum, [, { quality }]) => sum + quality.filter((q) => q !== undefined).length, 0)
  const here = at.value && cellAt(rows, at.value)
  const go = (row: number, column: number) => {
    at.value = [clamped(row, rows.length), clamped(column, columns)]
  }
  const take = () => {
    const picked = at.value && cellAt(rows, at.value)
    if (!picked) return
    cell.value = { target: picked.target, plate: picked.plate, frame: picked.donor }
    goTo(picked.target)
    if (display.value !== 'donor') show('donor')
  }
  const under = (event: PointerEvent) => {
    const { left, top, width, height } = (event.currentTarget as HTMLElement).getBoundingClientRect()
    go(
      Math.floor(((event.clientY - top) / height) * rows.length),
      Math.floor(((event.clientX - left) / width) * columns),
    )
  }
  return (
    <figure class="desk-matrix">
      <figcaption>
        <h3>Match matrix</h3>
        <p class="note">
          Target frames down, donor frames across; the lighter a cell, the better that donor fits
          {known < pairs ? ', hatched is not known yet' : ''}.
        </p>
      </figcaption>
      {/* A table of thousands of cells is no help to hear; what the arrows walk to is said below. */}
      <div
        class="matrix-room"
        role="application"
        // biome-ignore lint/a11y/noNoninteractiveTabindex: it is walked by the arrow keys
        tabIndex={0}
        aria-label="Match matrix: arrows walk, Enter shows the donor"
        onPointerMove={under}
        onClick={take}
        onKeyDown={(event) => {
          const by = ARROWS[event.key]
          const [row, column] = at.value ?? [0, 0]
          if (by) go(row + by[0] * (event.shiftKey ? 10 : 1), column + by[1] * (event.shiftKey ? 10 : 1))
          else if (event.key === 'Enter') take()
          else return
          event.preventDefault()
          event.stopPropagation()
        }}
      >
        <canvas ref={canvas} />
      </div>
      <p class="matrix-said" role="status">
        {here
          ? `${here.target} from ${here.donor}: ${saidOf(here.quality)}`
          : `${known} of ${pairs} pairs compared`}
      </p>
      <Tries />
    </figure>
  )
}

function saidOf(quality: number | null | undefined): string {
  if (quality === undefined) return 'not known yet'
  return quality === null ? 'nothing can be said' : String(Math.round(quality))
}

/** What the clicked cell stands for, to be listed by the next search. */
function Tries() {
  const asked = cell.value
  if (!asked || state.value?.asked.aim === 'borrow') return null
  const { tries } = state.value!.asked
  return (
    <div class="buttons">
      {triesOf(asked.target, asked.frame).map((id) => (
        <button
          type="button"
          class="small"
          key={id}
          disabled={tries.includes(id)}
          onClick={() => ask({ tries: [...tries, id] }, null, 'search')}
        >
          {tries.includes(id) ? `${id} is tried next time` : `Try ${id}`}
        </button>
      ))}
      <button
        type="button"
        class="small"
        onClick={() => {
          cell.value = null
          if (candidate.value === null || step.value === 'search') show('shot')
        }}
      >
        Back to the plate
      </button>
    </div>
  )
}

const ARROWS: Readonly<Record<string, readonly [number, number]>> = {
  ArrowLeft: [0, -1],
  ArrowRight: [0, 1],
  ArrowUp: [-1, 0],
  ArrowDown: [1, 0],
}

function clamped(index: number, count: number): number {
  return Math.min(count - 1, Math.max(0, index))
}

function cellAt(rows: readonly (readonly [number, Row])[], [row, column]: readonly [number, number]) {
  const [target, { donors, quality }] = rows[clamped(row, rows.length)]
  if (!donors[column]) return null
  const [plate, donor] = donors[column]
  return { target, plate, donor, quality: quality[column] }
}

/** A sample a cell; the style sheet stretches it without smoothing. */
function draw(
  canvas: HTMLCanvasElement,
  rows: readonly (readonly [number, Row])[],
  pointed: readonly [number, number] | null,
): void {
  const columns = Math.max(1, ...rows.map(([, { donors }]) => donors.length))
  const tall = Math.max(1, Math.floor(HEIGHT / rows.length))
  canvas.width = columns
  canvas.height = rows.length * tall
  const context = canvas.getContext('2d')!
  const image = context.createImageData(columns, rows.length * tall)
  for (const [r, [, { quality }]] of rows.entries()) {
    for (let c = 0; c < columns; c++) {
      const value = quality[c]
      // What can't be compared is darker than the worst; what is not known yet lets the hatching behind it through.
      const grey = value == null ? 24 : 40 + 2.15 * value
      for (let y = 0; y < tall; y++) {
        const i = 4 * ((r * tall + y) * columns + c)
        const marked = pointed && pointed[0] === r && pointed[1] === c
        image.data[i] = image.data[i + 1] = image.data[i + 2] = marked ? (y % 2 === 0 ? 255 : 0) : grey
        image.data[i + 3] = marked || value !== undefined ? 255 : 0
      }
    }
  }
  context.putImageData(image, 0, 0)
}
