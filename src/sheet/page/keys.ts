// Every key, once: what the help lists is what is listened to.
import type { Choice } from '../data/decisions.js'
import type { PageData } from '../data/page-data.js'
import {
  atFrame,
  atWay,
  clamp,
  EXPOSURE,
  GAINS,
  GAMMA,
  type Look,
  START,
  stepped,
  VIEWS,
  ZOOMS,
} from './look.js'

export interface Around {
  readonly data: PageData
  /** candidates on show, in their order */
  readonly visible: readonly number[]
}

export interface Key {
  /** values of KeyboardEvent.key */
  readonly keys: readonly string[]
  readonly shown: string
  readonly does: string
  readonly run?: (look: Look, around: Around) => Look
  readonly choose?: Choice
  readonly act?: 'note' | 'close'
  /** not again while it is held down: it would take back what it did, or flash */
  readonly once?: true
}

function neighbour(look: Look, { data, visible }: Around, by: number): Look {
  if (look.way === null) return look
  const at = visible.indexOf(look.way)
  const next = visible[at + by]
  return at < 0 || next === undefined ? look : atWay(look, data, next)
}

export const LOOK_KEYS: readonly Key[] = [
  {
    keys: ['ArrowRight'],
    shown: '→',
    does: 'next frame',
    run: (l, { data }) => atFrame({ ...l, playing: false }, data, l.frame + 1),
  },
  {
    keys: ['ArrowLeft'],
    shown: '←',
    does: 'frame before',
    run: (l, { data }) => atFrame({ ...l, playing: false }, data, l.frame - 1),
  },
  {
    keys: ['Home'],
    shown: 'Home',
    does: 'first frame',
    run: (l, { data }) => atFrame({ ...l, playing: false }, data, 0),
  },
  {
    keys: ['End'],
    shown: 'End',
    does: 'last frame',
    run: (l, { data }) => atFrame({ ...l, playing: false }, data, Infinity),
  },
  {
    keys: [' '],
    shown: 'Space',
    does: 'play, stop; Enter presses the button in focus',
    run: (l, { data }) => ({ ...l, playing: !l.playing && data.ways[l.way ?? 0].frames.length > 1 }),
    once: true,
  },
  ...VIEWS.map(
    ({ view, name }, i): Key => ({
      keys: [String(i + 1)],
      shown: String(i + 1),
      does: name.toLowerCase(),
      run: (l) => ({ ...l, view, flipped: true }),
    }),
  ),
  {
    keys: ['f'],
    shown: 'F',
    does: 'flip by hand between target and repaired',
    run: (l) => ({ ...l, view: 'flip', flipped: l.view === 'flip' ? !l.flipped : l.view !== 'repaired' }),
    once: true,
  },
  { keys: ['w'], shown: 'W', does: 'wipe', run: (l) => ({ ...l, view: 'wipe' }) },
  {
    keys: [','],
    shown: ',',
    does: 'wipe to the left',
    run: (l) => ({ ...l, view: 'wipe', wipe: clamp(l.wipe - 0.02, { least: 0, most: 1 }) }),
  },
  {
    keys: ['.'],
    shown: '.',
    does: 'wipe to the right',
    run: (l) => ({ ...l, view: 'wipe', wipe: clamp(l.wipe + 0.02, { least: 0, most: 1 }) }),
  },
  {
    keys: ['+', '='],
    shown: '+',
    does: 'closer, pixel by pixel',
    run: (l) => ({ ...l, zoom: stepped(ZOOMS, l.zoom, 1) }),
  },
  {
    keys: ['-'],
    shown: '−',
    does: 'further away',
    run: (l) => ({ ...l, zoom: l.zoom <= 1 ? 0 : stepped(ZOOMS, l.zoom, -1) }),
  },
  { keys: ['0'], shown: '0', does: 'fit the window', run: (l) => ({ ...l, zoom: 0 }) },
  { keys: ['e'], shown: 'E', does: 'a third of a stop brighter', run: (l) => exposed(l, 1) },
  { keys: ['E'], shown: 'Shift E', does: 'a third of a stop darker', run: (l) => exposed(l, -1) },
  {
    keys: ['g'],
    shown: 'G',
    does: 'display gamma up',
    run: (l) => ({ ...l, gamma: clamp(l.gamma + GAMMA.step, GAMMA) }),
  },
  {
    keys: ['G'],
    shown: 'Shift G',
    does: 'display gamma down',
    run: (l) => ({ ...l, gamma: clamp(l.gamma - GAMMA.step, GAMMA) }),
  },
  {
    keys: ['d'],
    shown: 'D',
    does: 'difference stronger',
    run: (l) => ({ ...l, gain: stepped(GAINS, l.gain, 1) }),
  },
  {
    keys: ['D'],
    shown: 'Shift D',
    does: 'difference weaker',
    run: (l) => ({ ...l, gain: stepped(GAINS, l.gain, -1) }),
  },
  {
    keys: ['o'],
    shown: 'O',
    does: 'outline of the mask',
    run: (l) => ({ ...l, outlined: !l.outlined }),
    once: true,
  },
  {
    keys: ['b'],
    shown: 'B',
    does: 'display back to how it was',
    run: (l) => ({ ...l, exposure: START.exposure, gamma: START.gamma, gain: START.gain, zoom: START.zoom }),
  },
  {
    keys: ['j'],
    shown: 'J',
    does: 'next candidate',
    run: (l, around) => neighbour(l, around, 1),
    once: true,
  },
  {
    keys: ['k'],
    shown: 'K',
    does: 'candidate before',
    run: (l, around) => neighbour(l, around, -1),
    once: true,
  },
  { keys: ['a'], shown: 'A', does: 'accept', choose: 'accept', once: true },
  { keys: ['l'], shown: 'L', does: 'keep for later', choose: 'later', once: true },
  { keys: ['r'], shown: 'R', does: 'reject', choose: 'reject', once: true },
  { keys: ['n'], shown: 'N', does: 'write a note', act: 'note' },
  { keys: ['Escape'], shown: 'Esc', does: 'back to all candidates', act: 'close' },
]

function exposed(look: Look, by: 1 | -1): Look {
  const exposure = clamp(look.exposure + by * EXPOSURE.step, EXPOSURE)
  // Thirds add up to almost nothing: back at nought it is nought.
  return { ...look, exposure: Math.abs(exposure) < 0.01 ? 0 : exposure }
}

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
