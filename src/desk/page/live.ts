// The news that the server sends: taken over as they come, and asked for again when the connection was lost.
import { batch } from '@preact/signals'
import type { EarlyMatrix } from '../../search/events.js'
import { BEGIN_ID, type Begin, type Message, type OpenedShot } from '../messages.js'
import { api } from './api.js'
import { pictures } from './looking.js'
import {
  allSent,
  attempt,
  connection,
  frame,
  type Live,
  leaveShot,
  live,
  opened,
  type Row,
  type SurfaceLight,
  sendAgain,
  shotName,
  shots,
  step,
  strips,
  surface,
  trouble,
} from './state.js'

/** After a loss it is tried again so often, ms. */
const AGAIN_MS = 2000

/** Listens until the page is closed. */
export function listen(): void {
  const source = new EventSource('events')
  source.onopen = () => {
    const again = connection.value === 'lost'
    connection.value = 'there'
    // What was told meanwhile was missed: of the first time what was told since the page was served.
    if (again) void comeBack()
    else if (shotName.value !== null && opened.value) void refresh(shotName.value)
  }
  source.onerror = () => {
    connection.value = 'lost'
    if (source.readyState !== EventSource.CLOSED) return
    setTimeout(listen, AGAIN_MS)
  }
  source.onmessage = ({ data }) => take(JSON.parse(data))
}

export function take(message: Message): void {
  if (message.kind === 'shots') {
    shots.value = message.shots
    return
  }
  if (message.kind === 'shot' || message.kind === 'fault') {
    if (message.shot !== shotName.value) return
    if (message.kind === 'shot') takeShot(message.opened)
    else trouble('shot', message.message)
    return
  }
  const known = knownOf(message.shot)
  const next = withNews(known, message)
  if (message.shot === shotName.value) show(next)
  else apart.set(message.shot, next)
}

/** What is told of a shot in pieces, which come once: also of those that are not open here, or not yet. */
interface Known {
  readonly strips: typeof strips.value
  readonly live: typeof live.value
  readonly surface: typeof surface.value
}
const NOTHING: Known = { strips: new Map(), live: new Map(), surface: null }
const apart = new Map<string, Known>()

function knownOf(shot: string): Known {
  if (shot === shotName.value) return { strips: strips.value, live: live.value, surface: surface.value }
  return apart.get(shot) ?? NOTHING
}

function show(known: Known): void {
  batch(() => {
    strips.value = known.strips
    live.value = known.live
    surface.value = known.surface
  })
}

function withNews(known: Known, message: Of<'strip' | 'surface' | 'progress' | 'ranking' | 'row'>): Known {
  if (message.kind === 'strip') return withStrip(known, message)
  if (message.kind === 'surface') return { ...known, surface: withSurface(known.surface, message) }
  return withLive(known, message)
}

function withSurface(before: SurfaceLight | null, message: Of<'surface'>): SurfaceLight {
  const { surface, of, frames } = message
  const lights = new Map(before?.surface === surface ? before.lights : [])
  for (const { frame, light } of frames) lights.set(frame, light)
  return { surface, of, lights, ...(message.message === undefined ? {} : { message: message.message }) }
}

function withStrip(known: Known, { plate, frames }: Of<'strip'>): Known {
  const strip = new Map(known.strips.get(plate))
  for (const each of frames) strip.set(each.frame, each)
  return { ...known, strips: new Map(known.strips).set(plate, strip) }
}

type Of<K extends Message['kind']> = Extract<Message, { kind: K }>

function withLive(known: Known, message: Of<'progress' | 'ranking' | 'row'>): Known {
  const before = known.live.get(message.folder) ?? {}
  return { ...known, live: new Map(known.live).set(message.folder, { ...before, ...told(before, message) }) }
}

function told(before: Live, message: Of<'progress' | 'ranking' | 'row'>): Live {
  switch (message.kind) {
    case 'progress':
      return { phase: message.phase, done: message.done, total: message.total }
    case 'ranking':
      return {
        read: message.read,
        ofRead: message.total,
        candidates: message.candidates,
        ...(message.matrix ? { rows: filledIn(before.rows, message.matrix) } : {}),
      }
    case 'row': {
      const { target, donors, quality } = message
      return { rows: new Map(before.rows).set(target, { donors, quality }) }
    }
  }
}

/** All rows that there will be: what was known of them, and over it what is known now. */
function filledIn(before: Live['rows'], { targets, donors, cells }: EarlyMatrix): Map<number, Row> {
  const quality = targets.map((target) => {
    const known = before?.get(target)?.quality
    return donors.map((_, d) => known?.[d])
  })
  for (const [t, d, value] of cells) quality[t]![d] = value
  return new Map(targets.map((target, t) => [target, { donors, quality: quality[t]! }]))
}

function takeShot(next: OpenedShot): void {
  // News may overtake each other.
  if (opened.value && next.state.revision < opened.value.state.revision) return
  opened.value = next
}

async function refresh(name: string): Promise<void> {
  const next = await attempt('shot', () => api.shot(name))
  if (next && shotName.value === name) takeShot(next)
}

/** What was changed here meanwhile is sent, and what was missed is asked for. */
async function comeBack(): Promise<void> {
  pictures.forgetFaults()
  const name = shotName.value
  if (name === null) return
  sendAgain()
  await allSent()
  const next = await attempt('shot', () => api.shot(name))
  // Of a desk that was started again it counts whatever its number: one that was killed may have lost its last second.
  if (next && shotName.value === name) opened.value = next
}

/** Begins with what the page was served with; an address that names a shot goes before it. */
export function begin(): void {
  const { shots: known, open } = JSON.parse(document.getElementById(BEGIN_ID)!.textContent!) as Begin
  shots.value = known
  if (open !== null && (location.hash === '' || named() === open.name)) {
    leaveShot(open.name)
    enter(open.opened)
    location.hash = `/${encodeURIComponent(open.name)}`
  } else void follow()
}

/** The shot that the address names, `#/quay`. */
function named(): string | null {
  return decodeURIComponent(location.hash.replace(/^#\/?/, '')) || null
}

function enter(next: OpenedShot): void {
  batch(() => {
    const { searches, asked, view } = next.state
    opened.value = next
    frame.value = next.plates[0]?.frames.includes(view.frame) ? view.frame : (next.plates[0]?.frames[0] ?? 0)
    const drawn = asked.region.shapes.length > 0 || asked.region.file !== null
    step.value = searches.length > 0 ? 'choose' : !drawn ? 'region' : asked.frames === '' ? 'range' : 'search'
  })
}

/** Opens the shot that the address names; without one the list. */
export async function follow(): Promise<void> {
  const name = named()
  if (name === shotName.value && opened.value) return
  if (shotName.value !== null) apart.set(shotName.value, knownOf(shotName.value))
  leaveShot(name)
  if (name === null) return
  show(apart.get(name) ?? NOTHING)
  try {
    const next = await api.shot(name)
    if (shotName.value === name) enter(next)
  } catch (error) {
    leaveShot(null)
    location.hash = ''
    trouble('picker', (error as Error).message)
  }
}
