// Moving the donor by hand: by the arrow keys on a pad, or by numbers.
import { Num } from './fields.js'
import { askPatch, state } from './state.js'

/** Of an arrow key; with Shift ten times as much. Plate pixels. */
const STEP_PX = 0.1

const ARROWS: Readonly<Record<string, readonly [number, number]>> = {
  ArrowLeft: [-1, 0],
  ArrowRight: [1, 0],
  ArrowUp: [0, -1],
  ArrowDown: [0, 1],
}

export function Nudge() {
  const [dx, dy] = state.value!.patch.nudge ?? [0, 0]
  const set = (x: number, y: number) => {
    const [a, b] = [Math.round(x * 100) / 100, Math.round(y * 100) / 100]
    askPatch({ nudge: a === 0 && b === 0 ? null : [a, b] })
  }
  return (
    <fieldset class="nudge">
      <legend>Nudge the donor</legend>
      <button
        type="button"
        class="pad"
        aria-describedby="nudge-steps"
        onClick={(event) => event.currentTarget.focus()}
        onKeyDown={(event) => {
          const arrow = ARROWS[event.key]
          if (!arrow) return
          event.preventDefault()
          event.stopPropagation()
          const by = event.shiftKey ? 10 * STEP_PX : STEP_PX
          set(dx + arrow[0] * by, dy + arrow[1] * by)
        }}
      >
        Nudge it by the arrow keys here
      </button>
      <p class="note" id="nudge-steps">
        A tenth of a pixel, with Shift one.
      </p>
      <div class="two">
        <Num label="Right" unit="px" step={STEP_PX} value={dx} onCommit={(x) => set(x ?? 0, dy)} />
        <Num label="Down" unit="px" step={STEP_PX} value={dy} onCommit={(y) => set(dx, y ?? 0)} />
      </div>
    </fieldset>
  )
}
