// Every key, once: what the help lists is what is listened to.
import type { Choice } from '../../data/decisions.js'
import {
  atFrame,
  atWay,
  clamp,
  EXPOSURE,
  GAINS,
  GAMMA,
  type Look,
  pannedBy,
  START,
  stepped,
  swapped,
  VIEWS,
  withBeside,
  withWhole,
} from './look.js'
import { type Point, zoomStep } from './place.js'
import type { ViewerData } from './viewer-data.js'

export interface Around {
  readonly data: ViewerData
  /** candidates on show, in their order */
  readonly visible: readonly number[]
  /** the zoom that fits, screen pixels per picture pixel */
  readonly fit: number
}

export interface Key {
  /** values of KeyboardEvent.key */
  readonly keys: readonly string[]
  /** with Shift: said of keys that are called the same with it and without */
  readonly shift?: true
  readonly shown: string
  readonly does: string
  readonly run?: (look: Look, around: Around) => Look
  readonly choose?: Choice
  readonly act?: 'note' | 'close'
  /** not again while it is held down: it would take back what it did, or flash */
  readonly once?: true
}

/** How far an arrow pushes the picture, screen pixels. */
const PAN_PX = 64

function neighbour(look: Look, { data, visible }: Around, by: number): Look {
  if (look.way === null) return look
  const at = visible.indexOf(look.way)
  // Beside the one that is next already, the one after that.
  const others = visible.filter((way) => way !== look.beside)
  const next = others[others.indexOf(look.way) + by]
  return at < 0 || next === undefined ? look : atWay(look, data, next)
}

/** Beside the next candidate, after the last one beside the one before; or alone again. */
function compared(look: Look, { visible }: Around): Look {
  if (look.way === null || look.beside !== null) return withBeside(look, null)
  const at = visible.indexOf(look.way)
  return withBeside(look, visible[at + 1] ?? visible[at - 1] ?? null)
}

function pushed(by: Point): (look: Look, around: Around) => Look {
  return (look, { data, fit }) => {
    const px = PAN_PX / (look.zoom || fit)
    return pannedBy(look, data, { x: by.x * px, y: by.y * px })
  }
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
    run: (l, { data }) => ({
      ...l,
      playing: !l.playing && l.way !== null && data.ways[l.way].frames.length > 1,
    }),
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
    does: 'closer, as the wheel does',
    run: (l, { fit }) => ({ ...l, zoom: zoomStep(l.zoom, fit, 1) }),
  },
  {
    keys: ['-'],
    shown: '−',
    does: 'further away',
    run: (l, { fit }) => {
      const zoom = zoomStep(l.zoom, fit, -1)
      return { ...l, zoom, centre: zoom === 0 ? null : l.centre }
    },
  },
  { keys: ['0'], shown: '0', does: 'fit the window', run: (l) => ({ ...l, zoom: 0, centre: null }) },
  {
    keys: ['ArrowRight'],
    shift: true,
    shown: 'Shift →',
    does: 'look further to the right',
    run: pushed({ x: 1, y: 0 }),
  },
  {
    keys: ['ArrowLeft'],
    shift: true,
    shown: 'Shift ←',
    does: 'look further to the left',
    run: pushed({ x: -1, y: 0 }),
  },
  { keys: ['ArrowUp'], shift: true, shown: 'Shift ↑', does: 'look further up', run: pushed({ x: 0, y: -1 }) },
  {
    keys: ['ArrowDown'],
    shift: true,
    shown: 'Shift ↓',
    does: 'look further down',
    run: pushed({ x: 0, y: 1 }),
  },
  {
    keys: ['v'],
    shown: 'V',
    does: 'the whole frame, the region alone',
    run: (l, { data }) => (data.whole ? withWhole(l, !l.whole) : l),
    once: true,
  },
  {
    keys: ['c'],
    shown: 'C',
    does: 'compare with another candidate beside it, or no more',
    run: compared,
    once: true,
  },
  {
    keys: ['x'],
    shown: 'X',
    does: 'of two, go over to the other one',
    run: (l, { data }) => swapped(l, data),
    once: true,
  },
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
    run: (l) => {
      const { exposure, gamma, gain, zoom, centre } = START
      return { ...l, exposure, gamma, gain, zoom, centre }
    },
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

/** The key of the list that was pressed. */
export function keyOf({ key, shiftKey }: Pick<KeyboardEvent, 'key' | 'shiftKey'>): Key | undefined {
  const arrow = key.startsWith('Arrow')
  return LOOK_KEYS.find((each) => each.keys.includes(key) && (!arrow || (each.shift ?? false) === shiftKey))
}
