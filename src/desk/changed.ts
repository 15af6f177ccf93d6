// A change made to a shot, alike on the server and on the page that shows it before it is sent.
import type { Change, ShotState } from './shot-state.js'

/** The shot with a change made to it, one revision on. */
export function changed(state: ShotState, { view, asked, patch }: Change): ShotState {
  return {
    ...state,
    revision: state.revision + 1,
    view: { ...state.view, ...view },
    asked: { ...state.asked, ...asked },
    patch: { ...state.patch, ...patch },
  }
}
