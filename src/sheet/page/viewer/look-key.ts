// What a key does while looking closer, whichever element has the focus.
import type { Choice } from '../../data/decisions.js'
import { type Around, keyOf } from './keys.js'
import type { Look } from './look.js'
import { mayAct } from './single-keys.js'

export interface LookKeyActions {
  readonly setLook: (f: (now: Look) => Look) => void
  readonly around: () => Around
  /** The focus goes to the picture. */
  readonly toPicture: () => void
  /** The list of keys is to be shown. */
  readonly help?: () => void
  readonly choose?: (choice: Choice) => void
  /** The focus goes to the note. */
  readonly note?: () => void
  readonly close?: () => void
}

/** Does what the list of keys says, and then keeps the browser from doing anything else with the key. */
export function onLookKey(event: KeyboardEvent, actions: LookKeyActions): void {
  const taken = takes(event)
  if (event.ctrlKey || event.metaKey || event.altKey) return
  // A note is done: back to the picture, where the other keys work.
  if (event.key === 'Enter' && taken === 'all') actions.toPicture()
  if (taken === 'all' || !mayAct(event.key)) return
  if (event.key === '?') {
    if (!actions.help) return
    actions.help()
    event.preventDefault()
    return
  }
  const key = keyOf(event)
  if (!key) return
  if ((taken === 'moves' && MOVES.has(event.key)) || (taken === 'presses' && event.key === ' ')) return
  if (!(event.repeat && key.once)) {
    if (key.run) actions.setLook((now) => key.run!(now, actions.around()))
    else if (key.choose) actions.choose?.(key.choose)
    else if (key.act === 'close') actions.close?.()
    else if (key.act === 'note') actions.note?.()
  }
  event.preventDefault()
}

/** Some browsers press a button when Space comes up again. */
export function onLookKeyUp(event: KeyboardEvent): void {
  if (event.key === ' ' && event.target instanceof HTMLButtonElement) event.preventDefault()
}

const MOVES = new Set(['ArrowLeft', 'ArrowRight', 'ArrowUp', 'ArrowDown', 'Home', 'End'])

/**
 * What the element in focus needs for itself: everything typed, the keys that move it, the key that ticks it. A button
 * is pressed by Enter alone: Space plays, whichever button was the last one used.
 */
function takes({ target, key }: KeyboardEvent): 'all' | 'moves' | 'presses' | 'none' {
  if (!(target instanceof HTMLElement) || key === 'Escape') return 'none'
  if (target instanceof HTMLSelectElement || target instanceof HTMLTextAreaElement) return 'all'
  if (target instanceof HTMLInputElement) {
    if (target.type === 'range') return 'moves'
    return target.type === 'checkbox' ? 'presses' : 'all'
  }
  return 'none'
}
