// A shot's desk.json: read untrusted, written whole, at most once a second, and always what is true last.
import { readFile } from 'node:fs/promises'
import { OffcutError, printable } from '../errors.js'
import { faultOf } from '../fault.js'
import { writeWhole } from '../footage/write/file.js'
import { type ShotState, shotStateSchema } from './shot-state.js'

/** @throws DESK_FILE_BAD with what is wrong in it; it is left as it is */
export async function readState(path: string): Promise<ShotState> {
  let json: unknown
  try {
    json = JSON.parse(await readFile(path, 'utf8'))
  } catch (cause) {
    throw bad(path, `can't be read (${(cause as Error).message})`, cause)
  }
  const parsed = shotStateSchema.safeParse(json)
  if (!parsed.success) throw bad(path, `has a fault: ${faultOf(parsed.error, json)}`)
  return parsed.data
}

function bad(path: string, problem: string, cause?: unknown): OffcutError {
  return new OffcutError(
    'DESK_FILE_BAD',
    `${printable(path)} ${printable(problem)}; it is left as it is: mend it, or open the plate as a new shot`,
    1,
    { cause },
  )
}

/** Two writes lie at least so far apart. */
const BETWEEN_MS = 1000

export class StateFile {
  #waiting: ShotState | null = null
  #timer: NodeJS.Timeout | null = null
  #writing: Promise<void> = Promise.resolve()
  #last = Number.NEGATIVE_INFINITY

  /** @param onFault told why a state could not be written; the next change tries again */
  constructor(
    readonly path: string,
    readonly onFault: (cause: unknown) => void,
  ) {}

  save(state: ShotState): void {
    this.#waiting = state
    this.#timer ??= setTimeout(() => this.#write(), Math.max(0, this.#last + BETWEEN_MS - performance.now()))
  }

  /** Resolves when what was saved last is on disk, or could not be brought there. */
  flush(): Promise<void> {
    if (this.#timer !== null) {
      clearTimeout(this.#timer)
      this.#write()
    }
    return this.#writing
  }

  #write(): void {
    const state = this.#waiting
    this.#timer = null
    this.#waiting = null
    this.#last = performance.now()
    if (state === null) return
    // One after the other: an older state must not come to lie over a newer one.
    this.#writing = this.#writing.then(() =>
      writeWhole(this.path, `${JSON.stringify(state, null, 1)}\n`, { overwrite: true }).catch(this.onFault),
    )
  }
}
