// What a command that was started by another program tells it while it runs, over the channel between the two processes: one
// plain object a message. `progress` may come at any time; `ranking` while frames are read; `row` for every target frame once
// the match matrix is whole; `failed` last, and only where it fails.
import type { Progress } from '../progress.js'
import type { Ranking, SearchEvent } from './events.js'

/** How far it is. */
interface ToldProgress extends Progress {
  readonly kind: 'progress'
}

/** A target frame compared with every donor, as the result's matrix has it. */
interface ToldRow {
  readonly kind: 'row'
  readonly target: number
  readonly donors: readonly (readonly [plate: number, frame: number])[]
  /** 0 to 100, null where nothing can be said. */
  readonly quality: readonly (number | null)[]
}

/** What went wrong, in the words that the command prints. */
interface ToldFailed {
  readonly kind: 'failed'
  readonly error: { readonly code: string; readonly message: string }
}

export type Told = ToldProgress | Ranking | ToldRow | ToldFailed

/** What of a search's event is told beside its progress. */
export function toldOf(event: SearchEvent): Told[] {
  if (event.kind === 'ranking') return [event]
  if (event.kind !== 'matrix') return []
  const { targets, donors, quality } = event.matrix
  const across = donors.map(({ plate, frame }) => [plate, frame] as const)
  return targets.map((target, t) => ({ kind: 'row', target, donors: across, quality: quality[t] }))
}
