// Keys among the candidates: they act on the row in focus.
import type { Choice } from '../data/decisions.js'
import type { PageData } from '../data/page-data.js'
import { mayAct } from './viewer/single-keys.js'

const CHOICE_KEYS: Readonly<Record<string, Choice>> = { a: 'accept', l: 'later', r: 'reject' }

/** On the page, with a row in focus. */
export const ROW_KEYS: readonly { keys: readonly string[]; shown: string; does: string }[] = [
  { keys: ['j'], shown: 'J', does: 'next candidate' },
  { keys: ['k'], shown: 'K', does: 'candidate before' },
  { keys: ['Enter'], shown: 'Enter', does: 'look closer' },
  { keys: ['a'], shown: 'A', does: 'accept' },
  { keys: ['l'], shown: 'L', does: 'keep for later' },
  { keys: ['r'], shown: 'R', does: 'reject' },
  { keys: ['n'], shown: 'N', does: 'write a note' },
  { keys: ['?'], shown: '?', does: 'this list' },
]

export interface RowActions {
  look: (way: number) => void
  choose: (way: number, choice: Choice) => void
  tell: (text: string) => void
  help: () => void
}

export function wireRowKeys(data: PageData, visible: () => readonly number[], actions: RowActions): void {
  const row = (way: number) => document.getElementById(data.ways[way].row)!
  const inFocus = () => {
    const id = document.activeElement?.closest('.row')?.id
    return data.ways.findIndex((way) => way.row === id)
  }
  /** Signs what is seen: a row that was scrolled away comes back first, and the key has to be pressed again. */
  const sign = (way: number, choice: Choice) => {
    if (isSeen(row(way))) return actions.choose(way, choice)
    show(row(way))
    actions.tell(
      `${way + 1}, ${data.ways[way].words}, is the row in focus: nothing is decided yet, press again`,
    )
  }
  const go = (by: 1 | -1) => {
    const order = visible()
    const at = order.indexOf(inFocus())
    const next = order[at < 0 ? (by > 0 ? 0 : order.length - 1) : at + by]
    if (next === undefined) return
    row(next).focus({ preventScroll: true })
    show(row(next))
  }

  addEventListener('keydown', (event) => {
    const { target, key } = event
    if (
      event.ctrlKey ||
      event.metaKey ||
      event.altKey ||
      !mayAct(key) ||
      document.querySelector('dialog[open]')
    )
      return
    if (target instanceof HTMLInputElement && target.type !== 'checkbox') {
      // A note is done: back to its row, where the other keys work.
      if (key === 'Enter') target.closest<HTMLElement>('.row')?.focus()
      return
    }
    if (target instanceof HTMLSelectElement) return
    const way = inFocus()
    if (key === '?') actions.help()
    else if (key === 'j') go(1)
    else if (key === 'k') go(-1)
    else if (way < 0) return
    else if (key === 'Enter' && target === row(way)) actions.look(way)
    else if (key in CHOICE_KEYS) {
      // Held down it would take back what it signed.
      if (!event.repeat) sign(way, CHOICE_KEYS[key])
    } else if (key === 'n') row(way).querySelector<HTMLElement>('[data-part="note"]')!.focus()
    else return
    event.preventDefault()
  })
}

function show(row: HTMLElement): void {
  // At once: a key that follows must find it there.
  if (!isWhole(row)) row.scrollIntoView({ block: 'start', behavior: 'instant' })
}

/** Whether the row is what one looks at: whole on the screen, or over its middle. */
function isSeen(row: HTMLElement): boolean {
  const { top, bottom } = row.getBoundingClientRect()
  const middle = innerHeight / 2
  return (top <= middle && bottom >= middle) || isWhole(row)
}

function isWhole(row: HTMLElement): boolean {
  const { top, bottom } = row.getBoundingClientRect()
  return top >= 0 && bottom <= innerHeight
}
