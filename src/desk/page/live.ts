// The news that the server sends: taken over as they come, and asked for again when the connection was lost.
import { batch } from '@preact/signals'
import type { Message, OpenedShot } from '../messages.js'
import { api } from './api.js'
import {
  attempt,
  connection,
  frame,
  type Live,
  leaveShot,
  live,
  opened,
  shotName,
  shots,
  step,
  strips,
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
    // What was told meanwhile was missed.
    if (again && shotName.value !== null) void refresh(shotName.value)
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
    const first = shots.value === null
    shots.value = message.shots
    // Started for one plate, it shows that one.
    const [only, another] = message.shots
    if (first && only && !another && only.fault === undefined && location.hash === '')
      location.hash = `/${encodeURIComponent(only.name)}`
    return
  }
  if (message.shot !== shotName.value) return
  switch (message.kind) {
    case 'shot':
      takeShot(message.opened)
      break
    case 'fault':
      trouble('shot', message.message)
      break
    case 'strip': {
      const known = new Map(strips.value.get(message.plate))
      for (const each of message.frames) known.set(each.frame, each)
      strips.value = new Map(strips.value).set(message.plate, known)
      break
    }
    case 'progress': {
      const { folder, phase, done, total } = message
      tell(folder, () => ({ phase, done, total }))
      break
    }
    case 'ranking': {
      const { folder, read, total, candidates } = message
      tell(folder, () => ({ read, ofRead: total, candidates }))
      break
    }
    case 'row': {
      const { folder, target, donors, quality } = message
      tell(folder, ({ rows }) => ({ rows: new Map(rows).set(target, { donors, quality }) }))
    }
  }
}

function tell(folder: string, what: (known: Live) => Partial<Live>): void {
  const known = live.value.get(folder) ?? {}
  live.value = new Map(live.value).set(folder, { ...known, ...what(known) })
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

/** Opens the shot that the address names, `#/quay`; without one the list. */
export async function follow(): Promise<void> {
  const name = decodeURIComponent(location.hash.replace(/^#\/?/, '')) || null
  if (name === shotName.value && opened.value) return
  leaveShot(name)
  if (name === null) return
  try {
    const next = await api.shot(name)
    if (shotName.value !== name) return
    batch(() => {
      const { searches, asked, view } = next.state
      opened.value = next
      frame.value = next.plates[0]?.frames.includes(view.frame)
        ? view.frame
        : (next.plates[0]?.frames[0] ?? 0)
      const drawn = asked.region.shapes.length > 0 || asked.region.file !== null
      step.value =
        searches.length > 0 ? 'choose' : !drawn ? 'region' : asked.frames === '' ? 'range' : 'search'
    })
  } catch (error) {
    leaveShot(null)
    location.hash = ''
    trouble('picker', (error as Error).message)
  }
}
