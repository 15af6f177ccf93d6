// Changes on their way to the server: shown at once, sent one after the other, and laid over whatever comes in meanwhile.
import { changed } from '../changed.js'
import type { Change, ShotState } from '../shot-state.js'

/** Two changes as one, the second on top. */
export function merged(a: Change, b: Change): Change {
  const both: Change = {}
  if (a.view || b.view) both.view = { ...a.view, ...b.view }
  if (a.asked || b.asked) both.asked = { ...a.asked, ...b.asked }
  if (a.patch || b.patch) both.patch = { ...a.patch, ...b.patch }
  return both
}

/** What the server last said with what it has not been told yet. */
export function overlaid(state: ShotState, mine: Change | null): ShotState {
  return mine === null ? state : { ...changed(state, mine), revision: state.revision }
}

export interface Outbox {
  add(change: Change): void
  /** Whether anything was not yet taken by the server. */
  readonly waiting: boolean
  /** Resolves when all has been sent, or sending failed. */
  sent(): Promise<void>
  /** Sends what the server was not reached with. */
  again(): void
}

/**
 * @param send   tells the server; refused changes are dropped
 * @param shown  called with what lies over the server's state, null where nothing does
 * @param failed called with what was wrong
 * @param unreached whether the server was not there at all: then the change is kept until there is another, or `again` is called
 */
export function outbox(
  send: (change: Change) => Promise<unknown>,
  shown: (mine: Change | null) => void,
  failed: (error: unknown) => void,
  unreached: (error: unknown) => boolean = () => false,
): Outbox {
  let next: Change | null = null
  let now: Change | null = null
  let working: Promise<void> | null = null
  const show = () => shown(now && next ? merged(now, next) : (now ?? next))
  const work = async () => {
    // So that all that one gesture changes is one change.
    await Promise.resolve()
    while (next) {
      now = next
      next = null
      try {
        await send(now)
      } catch (error) {
        failed(error)
        if (unreached(error)) {
          next = next ? merged(now, next) : now
          now = null
          break
        }
      }
      now = null
      show()
    }
    working = null
  }
  return {
    add(change) {
      next = next ? merged(next, change) : change
      show()
      working ??= work()
    },
    get waiting() {
      return working !== null || next !== null
    },
    sent: async () => {
      await working
    },
    again() {
      if (next) working ??= work()
    },
  }
}
