// The page's own script; everything that only reads works without it.
// In this order: widths override what is common, paper overrides the screen.
import './base.css'
import './top.css'
import './rows.css'
import './widths.css'
import './viewer/viewer.css'
import './closer.css'
import './print.css'
import { render } from 'preact'
import { config } from 'zod'
import { stands } from '../data/decided-text.js'
import type { Choice } from '../data/decisions.js'
import { Closer } from './closer.js'
import { wireDecide } from './decide.js'
import { Decided } from './decided.js'
import { HelpDialog } from './help-dialog.js'
import { wireMatrix } from './matrix.js'
import { wireRowKeys } from './row-keys.js'
import { RowNotes } from './row-notes.js'
import { wireRows } from './rows.js'
import { filesOf, readData } from './sheet-files.js'
import { FrameStore } from './viewer/frame-store.js'
import type { Look } from './viewer/look.js'

// The page's policy lets nothing be compiled from text, and checking by trial would show in the console.
config({ jitless: true })

const data = readData()
document.documentElement.classList.add('scripted')
const decided = new Decided(data)
const told = document.getElementById('told')
const tell = (text: string) => {
  if (told) told.textContent = text
}
const notes = new RowNotes(data)
const { visible } = wireRows(data)
wireDecide(data, decided, tell)
wireMatrix()

let open: (way: number, view?: Look['view']) => void = () => {}
const helper = document.createElement('div')
document.body.append(helper)
let help: () => void = () => {}
render(
  <HelpDialog
    bind={(show) => {
      help = show
    }}
  />,
  helper,
)
document.getElementById('keys')?.addEventListener('click', () => help())

const rowOf = (way: number) => document.getElementById(data.ways[way].row)!
render(
  <Closer
    {...{ data, decided, notes, visible }}
    store={new FrameStore(data, filesOf(data))}
    bind={(show) => {
      open = show
    }}
    onClose={(way) => {
      const row = rowOf(way)
      // At once: a key that follows must find it there.
      row.scrollIntoView({ block: 'nearest', behavior: 'instant' })
      row.querySelector<HTMLElement>('[data-part="look"]')?.focus()
    }}
  />,
  document.getElementById('closer')!,
)
for (const [i] of data.ways.entries()) {
  const row = rowOf(i)
  row.querySelector('[data-part="look"]')?.addEventListener('click', () => open(i))
  for (const figure of row.querySelectorAll<HTMLElement>('[data-view]')) {
    figure.addEventListener('click', () => open(i, figure.dataset.view as Look['view']))
  }
}
wireRowKeys(data, visible, {
  look: (way) => open(way),
  choose: (way, choice: Choice) => {
    const { id, words } = data.ways[way]
    decided.choose(id, choice, notes.get(id))
    tell(stands(`${way + 1}, ${words}`, decided.get(id)))
  },
  tell,
  help: () => help(),
})
