// What the page knows: one signal for each thing, and the ways to change what the server keeps.
import { batch, computed, signal } from '@preact/signals'
import type { Candidate } from '../../search/result.js'
import type { OpenedShot, PlateAbout, ShotSummary, StripFrame } from '../messages.js'
import type { Asked, Change, PatchAsked, SearchRun, ShotState } from '../shot-state.js'
import { api, Refused } from './api.js'
import { type Outbox, outbox, overlaid } from './outbox.js'
import { pickedOf } from './picked.js'
import { steppedFrame } from './strip-scale.js'
import { History } from './undo.js'

export const STEPS = ['region', 'range', 'search', 'choose', 'patch'] as const
export type StepName = (typeof STEPS)[number]

export const connection = signal<'coming' | 'there' | 'lost'>('coming')
export const shots = signal<readonly ShotSummary[] | null>(null)

/** The shot that is open, as the server last said. */
export const shotName = signal<string | null>(null)
export const opened = signal<OpenedShot | null>(null)
const mine = signal<Change | null>(null)

/** The shot as it is shown: with what has been changed here and is on its way. */
export const state = computed<ShotState | null>(() =>
  opened.value ? overlaid(opened.value.state, mine.value) : null,
)
export const plate = computed<PlateAbout | null>(() => opened.value?.plates[0] ?? null)

export const frame = signal(0)
export const step = signal<StepName>('region')
export const playing = signal(false)

/** Strips by plate and frame. */
export const strips = signal<ReadonlyMap<number, ReadonlyMap<number, StripFrame>>>(new Map())

/** Light of the surface that a borrow hunts on. */
export interface SurfaceLight {
  readonly surface: number
  readonly of: 'lookIn' | 'region' | null
  /** By frame, log2. */
  readonly lights: ReadonlyMap<number, number | null>
  readonly message?: string
}
export const surface = signal<SurfaceLight | null>(null)

/** What a search or patch that runs has told, by its folder. */
export interface Live {
  readonly phase?: string
  readonly done?: number
  readonly total?: number
  readonly read?: number
  readonly ofRead?: number
  readonly candidates?: readonly Candidate[]
  readonly rows?: ReadonlyMap<number, Row>
}
export interface Row {
  readonly donors: readonly (readonly [plate: number, frame: number])[]
  /** 0 to 100; null where nothing can be said, undefined where nothing is known yet. */
  readonly quality: readonly (number | null | undefined)[]
}
export const live = signal<ReadonlyMap<string, Live>>(new Map())

/** The search that is looked at: the newest where none was picked. */
export const searchPicked = signal<string | null>(null)
export const search = computed<SearchRun | null>(() => {
  const searches = state.value?.searches ?? []
  return searches.find(({ folder }) => folder === searchPicked.value) ?? searches[searches.length - 1] ?? null
})
export const told = computed<Live>(() => live.value.get(search.value?.folder ?? '') ?? {})

export const candidatePicked = signal<string | null>(null)
export const candidate = computed<Candidate | null>(() =>
  pickedOf(told.value.candidates ?? [], candidatePicked.value),
)

/** What went wrong, by the part of the page where it was tried. */
export const troubles = signal<ReadonlyMap<string, string>>(new Map())

export function trouble(place: string, message: string | null): void {
  if ((troubles.value.get(place) ?? null) === message) return
  const next = new Map(troubles.value)
  if (message === null) next.delete(place)
  else next.set(place, message)
  troubles.value = next
}

/** Does something, and says at its place what went wrong; null then. */
export async function attempt<T>(place: string, what: () => Promise<T>): Promise<T | null> {
  trouble(place, null)
  try {
    return await what()
  } catch (error) {
    trouble(place, (error as Error).message)
    return null
  }
}

const history = new History<Asked>()
export const undoable = signal({ undo: false, redo: false })

/** The part of the page whose change is on its way, for its errors. */
let changing = 'shot'
/** Where it was said that the server could not be reached. */
let unsaid: string | null = null
const UNSENT = 'the desk does not answer: what was changed is kept here, and sent when it is back'

/** Of each shot: what could not be sent of one is never sent to another. */
const outboxes = new Map<string, Outbox>()

function changeShot(change: Change): void {
  const name = shotName.value
  if (name === null) return
  const out = outboxes.get(name) ?? outboxOf(name)
  outboxes.set(name, out)
  out.add(change)
}

function outboxOf(name: string): Outbox {
  return outbox(
    async (change) => {
      const { revision } = await api.change(name, change)
      if (unsaid !== null) trouble(unsaid, null)
      unsaid = null
      // The news of it may come before this answer, or after.
      const now = opened.value
      if (now && shotName.value === name && now.state.revision < revision) {
        opened.value = { ...now, state: { ...overlaid(now.state, change), revision } }
      }
    },
    (change) => {
      if (shotName.value === name) mine.value = change
    },
    (error) => {
      const isLost = isUnreached(error)
      if (isLost) unsaid = changing
      trouble(changing, isLost ? UNSENT : (error as Error).message)
    },
    isUnreached,
  )
}

function isUnreached(error: unknown): boolean {
  return error instanceof Refused && error.code === 'UNREACHED'
}

/** Sends what the server could not be reached with. */
export function sendAgain(): void {
  for (const out of outboxes.values()) out.again()
}

/** Resolves when the server knows all that was changed here, or could not be reached. */
export async function allSent(): Promise<void> {
  await Promise.all([...outboxes.values()].map((out) => out.sent()))
}

/**
 * Changes what is asked for; it can be taken back.
 *
 * @param run changes in a row with the same one are taken back together
 */
export function ask(values: Partial<Asked>, run: string | null = null, place = 'region'): void {
  const now = state.value
  if (!now) return
  const keys = Object.keys(values) as (keyof Asked)[]
  const before = Object.fromEntries(keys.map((key) => [key, now.asked[key]])) as Partial<Asked>
  history.record(before, values, run, performance.now())
  sendAsked(values, place)
}

function sendAsked(asked: Partial<Asked>, place: string): void {
  changing = place
  trouble(place, null)
  undoable.value = { undo: history.canUndo, redo: history.canRedo }
  changeShot({ asked })
}

export function undo(): void {
  const values = history.undo()
  if (values) sendAsked(values, 'region')
}

export function redo(): void {
  const values = history.redo()
  if (values) sendAsked(values, 'region')
}

export function askPatch(patch: Partial<PatchAsked>): void {
  changing = 'patch'
  trouble('patch', null)
  changeShot({ patch })
}

export function askView(view: Partial<ShotState['view']>): void {
  changing = 'picture'
  trouble('picture', null)
  changeShot({ view })
}

let remembering: ReturnType<typeof setTimeout> | undefined

/** Goes to a frame. Which one was looked at last is kept when it has been looked at for a moment. */
export function goTo(next: number): void {
  if (frame.value === next) return
  frame.value = next
  clearTimeout(remembering)
  remembering = setTimeout(() => {
    if (state.value && state.value.view.frame !== frame.value) askView({ frame: frame.value })
  }, 1000)
}

export function stepFrames(by: number): void {
  const frames = plate.value?.frames
  if (!frames) return
  playing.value = false
  goTo(steppedFrame(frames, frame.value, by))
}

/** Another shot, or none: nothing of the last one stays. */
export function leaveShot(name: string | null): void {
  clearTimeout(remembering)
  history.clear()
  batch(() => {
    shotName.value = name
    opened.value = null
    mine.value = null
    playing.value = false
    strips.value = new Map()
    surface.value = null
    live.value = new Map()
    searchPicked.value = null
    candidatePicked.value = null
    troubles.value = new Map()
    undoable.value = { undo: false, redo: false }
    step.value = 'region'
  })
}
