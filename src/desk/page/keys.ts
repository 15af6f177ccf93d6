// Every key of the page, once: what the help lists is what is listened to.
import { signal } from '@preact/signals'
import { mayAct } from '../../sheet/page/viewer/single-keys.js'
import { hand, removeShape, select, selectedId, TOOLS, toggleKey, tool } from './areas.js'
import { cancelDrawing, closePolygon, takeBackCorner } from './gestures.js'
import { display, freeView, plateSize, room, show } from './looking.js'
import { togglePlaying } from './playback.js'
import { goTo, plate, playing, redo, STEPS, step, stepFrames, undo } from './state.js'
import { setEnd } from './target-range.js'
import { centred } from './view.js'

export interface Key {
  /** Values of KeyboardEvent.key. */
  readonly keys: readonly string[]
  readonly shown: string
  readonly does: string
  readonly control?: true
  /** Tells false where there was nothing to do, so that the key keeps its meaning. */
  readonly run: (event: KeyboardEvent) => unknown
}

/** Whether the list of keys is up. */
export const helping = signal(false)

/** One plate pixel on one screen pixel. */
export function oneToOne(): void {
  freeView.value = centred(room.value, plateSize.value, 1 / devicePixelRatio)
}

/** What the five steps are called. */
export const STEP_NAMES: readonly string[] = ['Draw', 'Range', 'Search', 'Choose', 'Patch']

const drawing = () => step.value === 'region'

export const KEYS: readonly Key[] = [
  { keys: [' '], shown: 'Space', does: 'play, stop', run: togglePlaying },
  {
    keys: ['ArrowRight'],
    shown: '→',
    does: 'next frame; with Shift ten',
    run: (e) => stepFrames(e.shiftKey ? 10 : 1),
  },
  {
    keys: ['ArrowLeft'],
    shown: '←',
    does: 'frame before; with Shift ten',
    run: (e) => stepFrames(e.shiftKey ? -10 : -1),
  },
  { keys: ['Home'], shown: 'Home', does: 'first frame', run: () => end(0) },
  { keys: ['End'], shown: 'End', does: 'last frame', run: () => end(-1) },
  { keys: ['['], shown: '[', does: 'the target range begins here', run: () => setEnd('first') },
  { keys: [']'], shown: ']', does: 'the target range ends here', run: () => setEnd('last') },
  {
    keys: ['z', 'Z'],
    shown: 'Ctrl Z',
    does: 'undo; with Shift redo',
    control: true,
    run: (e) => (e.shiftKey ? redo() : undo()),
  },
  ...TOOLS.map(({ tool: which, name, key }) => ({
    keys: [key],
    shown: key.toUpperCase(),
    does: `${name.toLowerCase()}${which === 'select' ? ' shapes' : ''}`,
    run: () => {
      if (!drawing()) return false
      cancelDrawing()
      hand.value = false
      tool.value = which
      return true
    },
  })),
  {
    keys: ['h'],
    shown: 'H',
    does: 'push the picture about, and draw again',
    run: () => {
      hand.value = !hand.value
    },
  },
  {
    keys: ['k'],
    shown: 'K',
    does: 'the selected shape has a key here, or no longer',
    run: keyHere,
  },
  { keys: ['Enter'], shown: 'Enter', does: 'close the polygon', run: closePolygon },
  {
    keys: ['Backspace', 'Delete'],
    shown: 'Delete',
    does: 'take back a corner; remove the selected shape',
    run: () => {
      if (takeBackCorner()) return true
      if (!drawing() || selectedId.value === null) return false
      removeShape(selectedId.value)
      return true
    },
  },
  {
    keys: ['Escape'],
    shown: 'Esc',
    does: 'leave off drawing, select nothing',
    run: leaveOff,
  },
  {
    keys: ['f'],
    shown: 'F',
    does: 'all of the plate',
    run: () => {
      freeView.value = null
    },
  },
  { keys: ['0'], shown: '0', does: 'one pixel to one pixel', run: oneToOne },
  {
    keys: ['x'],
    shown: 'X',
    does: 'as shot, and donor or patch, in turn',
    run: () => show(display.value === 'shot' ? other() : 'shot'),
  },
  {
    keys: ['?'],
    shown: '?',
    does: 'this list',
    run: () => {
      helping.value = true
    },
  },
  ...STEPS.map((each, i) => ({
    keys: [String(i + 1)],
    shown: String(i + 1),
    does: STEP_NAMES[i],
    run: () => {
      step.value = each
    },
  })),
]

function keyHere(): boolean {
  if (drawing()) toggleKey()
  return drawing()
}

function leaveOff(): boolean {
  if (cancelDrawing()) return true
  const any = selectedId.value !== null
  select(null)
  return any
}

function other(): 'donor' | 'patched' {
  return step.value === 'patch' ? 'patched' : 'donor'
}

function end(at: 0 | -1): void {
  const frames = plate.value?.frames
  playing.value = false
  if (frames) goTo(frames.at(at)!)
}

/** Keys that a control in focus has for itself. */
function takes(target: EventTarget | null, { key }: KeyboardEvent): boolean {
  if (!(target instanceof Element)) return false
  if (target.closest('input[type="text"], textarea, select')) return key !== 'Escape'
  if (target.closest('input[type="range"]')) return key.startsWith('Arrow') || key === 'Home' || key === 'End'
  if (target.closest('button, summary, a, input')) return key === ' ' || key === 'Enter'
  return false
}

export function listenToKeys(): void {
  addEventListener('keydown', (event) => {
    if (event.defaultPrevented || event.altKey || plate.value === null) return
    if (document.querySelector('dialog[open]')) return
    const control = event.ctrlKey || event.metaKey
    const inText = event.target instanceof Element && event.target.closest('input[type="text"], textarea')
    if (takes(event.target, event) && !(control && !inText)) return
    if (!control && !mayAct(event.key)) return
    const key = KEYS.find((each) => each.keys.includes(event.key) && (each.control === true) === control)
    if (key && key.run(event) !== false) event.preventDefault()
  })
}
