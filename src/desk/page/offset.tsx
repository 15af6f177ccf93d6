// The 2D offset of a borrow: from the surface that is searched to the region, by numbers or by dragging its ghost.
import { isDrawn } from '../shapes.js'
import { Num } from './fields.js'
import { ask, state } from './state.js'

export function Offset() {
  const { offset, lookIn } = state.value!.asked
  const set = (dx: number, dy: number) => ask({ offset: [dx, dy] }, 'offset', 'search')
  return (
    <fieldset class="offset">
      <legend>Moved to its place by</legend>
      {isDrawn(lookIn) ? <p class="note">Or drag its dotted outline over the picture.</p> : null}
      <div class="two">
        <Num
          label="Right"
          unit="px"
          value={offset?.[0] ?? null}
          placeholder="as drawn"
          onCommit={(dx) => (dx === null ? ask({ offset: null }, null, 'search') : set(dx, offset?.[1] ?? 0))}
        />
        <Num
          label="Down"
          unit="px"
          value={offset?.[1] ?? null}
          placeholder="as drawn"
          onCommit={(dy) => (dy === null ? ask({ offset: null }, null, 'search') : set(offset?.[0] ?? 0, dy))}
        />
      </div>
    </fieldset>
  )
}
