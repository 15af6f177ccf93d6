// Keys among the candidates: they act on the row in focus.
import type { Choice } from '../decisions.js'
import type { PageData } from '../page-data.js'
import { mayAct } from './single-keys.js'

const CHOICE_KEYS: Readonly<Record<string, Choice>> = { a: 'accept', l: 'later', r: 'reject' }

export interface RowActions {
  look: (way: number) => void
  choose: (way: number, choice: Choice) => void
  help: () => void
}

export function wireRowKeys(data: PageData, visible: () => readonly number[], actions: RowActions): void {
  const row = (way: number) => document.getElementById(data.ways[way].row)!
  const inFocus = () => {
    const id = document.activeElement?.closest('.row')?.id
    return data.ways.findIndex((way) => way.row === id)
  }
  const go = (by: 1 | -1) => {
    const order = visible()
    const at = order.indexOf(inFocus())
    const next = order[at < 0 ? (by > 0 ? 0 : order.length - 1) : at + by]
    if (next !== undefined) row(next).focus()
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
    else if (key in CHOICE_KEYS) actions.choose(way, CHOICE_KEYS[key])
    else if (key === 'n') row(way).querySelector<HTMLElement>('[data-part="note"]')!.focus()
    else return
    event.preventDefault()
  })
}
