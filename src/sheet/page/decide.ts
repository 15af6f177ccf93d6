// The decisions of the rows: buttons, notes, tally, and the file in and out.

import { decidedText, stands } from '../data/decided-text.js'
import { DECISION_WORDS } from '../data/decision-words.js'
import { type Choice, parseDecisions } from '../data/decisions.js'
import type { PageData, PageWay } from '../data/page-data.js'
import type { Decided } from './decided.js'

/** @param tell says in the page's own status line what was done */
export function wireDecide(data: PageData, decided: Decided, tell: (text: string) => void): void {
  const initials = document.getElementById('initials') as HTMLInputElement | null
  if (!initials) return
  const fields = data.ways.map((way, i) => wireRow(way, `${i + 1}, ${way.words}`, decided, tell))
  const tally = document.getElementById('tally')!

  initials.addEventListener('change', () => decided.sign(initials.value.trim()))
  const refresh = () => {
    for (const field of fields) field.refresh()
    tally.textContent = tallyText(decided, data.ways.length)
    if (document.activeElement !== initials) initials.value = decided.initials
    const accepted = decided.count('accept') > 0
    document.documentElement.classList.toggle('some-accepted', accepted)
  }
  decided.onChange(refresh)
  refresh()

  document.getElementById('save')!.addEventListener('click', () => {
    decided.sign(initials.value.trim())
    const file = decided.file()
    download(`${JSON.stringify(file, null, 2)}\n`, 'decisions.json')
    decided.unsaved = false
    tell(`decisions.json saved, ${file.decisions.length} decided`)
  })

  const file = document.getElementById('load-file') as HTMLInputElement
  document.getElementById('load')!.addEventListener('click', () => file.click())
  file.addEventListener('change', async () => {
    const [chosen] = file.files ?? []
    if (!chosen) return
    tell(await restore(chosen, data, decided))
    // So that the same file can be chosen again.
    file.value = ''
  })

  addEventListener('beforeunload', (event) => {
    if (decided.unsaved) event.preventDefault()
  })
}

function wireRow(
  way: PageWay,
  name: string,
  decided: Decided,
  tell: (text: string) => void,
): { refresh: () => void } {
  const row = document.getElementById(way.row)!
  const buttons = [...row.querySelectorAll<HTMLButtonElement>('[data-choice]')]
  const note = row.querySelector<HTMLInputElement>('[data-part="note"]')!
  const text = row.querySelector<HTMLElement>('[data-part="decided"]')!
  for (const button of buttons) {
    button.addEventListener('click', ({ detail }) => {
      decided.choose(way.id, button.dataset.choice as Choice, note.value.trim())
      tell(stands(name, decided.get(way.id)))
      // Clicked, not pressed by a key: Space, which scrolls, would press it again and take the decision back.
      if (detail > 0) row.focus({ preventScroll: true })
    })
  }
  note.addEventListener('change', () => decided.note(way.id, note.value.trim()))
  const refresh = () => {
    const known = decided.get(way.id)
    if (known) row.dataset.decision = known.decision
    else delete row.dataset.decision
    for (const button of buttons) {
      button.setAttribute('aria-pressed', String(button.dataset.choice === known?.decision))
    }
    text.textContent = known ? decidedText(known) : ''
    if (known && document.activeElement !== note) note.value = known.note
  }
  return { refresh }
}

async function restore(file: File, data: PageData, decided: Decided): Promise<string> {
  try {
    const decisions = parseDecisions(await file.text(), file.name)
    const { plate, first, last } = decisions
    if (plate !== data.plate || first !== data.first || last !== data.last) {
      const here = `${data.plate}, ${data.first} to ${data.last}`
      return `${file.name} decides on ${plate}, ${first} to ${last}, this sheet shows ${here}: load the file saved from this sheet`
    }
    const { restored, unknown } = decided.restore(decisions)
    const left = unknown > 0 ? `; ${unknown} left out, as this sheet has no such candidate` : ''
    const older =
      decisions.search === data.search ? '' : '; made on another search of these frames, so look again'
    return `${restored} decided in ${file.name}${left}${older}`
  } catch (error) {
    return (error as Error).message
  }
}

function tallyText(decided: Decided, total: number): string {
  const parts = (Object.keys(DECISION_WORDS) as Choice[]).map(
    (choice) => [choice, decided.count(choice)] as const,
  )
  const words = { accept: 'accepted', later: 'for later', reject: 'rejected' }
  const some = parts.filter(([, n]) => n > 0).map(([choice, n]) => `${n} ${words[choice]}`)
  const open = total - parts.reduce((sum, [, n]) => sum + n, 0)
  return [...some, ...(open > 0 ? [`${open} open`] : [])].join(', ')
}

function download(text: string, name: string): void {
  const link = document.createElement('a')
  link.href = URL.createObjectURL(new Blob([text], { type: 'application/json' }))
  link.download = name
  link.click()
  setTimeout(() => URL.revokeObjectURL(link.href), 10_000)
}
