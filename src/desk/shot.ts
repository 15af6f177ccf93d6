// One shot of the desk: its state, its plates once somebody looks at it, and whoever changes it in its turn.
import { basename, join } from 'node:path'
import { readLook } from '../colour/look/read-look.js'
import { OffcutError } from '../errors.js'
import type { Plate } from '../footage/plate.js'
import { changed } from './changed.js'
import { typed } from './command-line.js'
import type { Events } from './events.js'
import type { OpenedShot, ShotSummary } from './messages.js'
import { missingIn, type NextSearch, nextSearch } from './next-search.js'
import { notFound, sentenceOf } from './refused.js'
import { aboutPlate, openPlates, type ShotPlates, wishOf } from './shot-plates.js'
import type { Change, ShotState } from './shot-state.js'
import { StateFile } from './state-file.js'

export interface ShotSetup {
  /** The shot's own, absolute. */
  readonly folder: string
  /** Where commands are typed. */
  readonly here: string
  readonly events: Events
  /** Number of the next search: above that of all that lies in the folder. */
  readonly nextNumber: number
  /** Is called when its line in the list of shots is another one. */
  readonly onSummary: () => void
}

export class Shot {
  readonly folder: string
  nextNumber: number
  /** When it was changed last, ISO. */
  at: string
  /** Why its plate can't be opened. */
  fault: string | undefined
  #state: ShotState
  #plates: Promise<ShotPlates> | undefined
  #ready: ShotPlates | undefined
  #turn: Promise<unknown> = Promise.resolve()
  readonly #file: StateFile

  constructor(
    state: ShotState,
    at: string,
    readonly setup: ShotSetup,
  ) {
    this.at = at
    this.folder = setup.folder
    // A folder may have been given another name since.
    this.#state = { ...state, name: this.name }
    this.nextNumber = setup.nextNumber
    this.#file = new StateFile(join(setup.folder, 'desk.json'), (cause) =>
      setup.events.tell({
        kind: 'fault',
        shot: this.name,
        message: `changes are not saved: ${sentenceOf(cause).message}`,
      }),
    )
  }

  get name(): string {
    return basename(this.folder)
  }

  get state(): ShotState {
    return this.#state
  }

  /** Its plates, opened on the first call; a failure is tried again on the next. @throws as openPlate, of the target's */
  async plates(): Promise<readonly Plate[]> {
    this.#plates ??= openPlates(this.#state, { strict: false })
    try {
      this.#ready = await this.#plates
      this.fault = undefined
      return this.#ready.plates
    } catch (cause) {
      this.#plates = undefined
      this.fault = sentenceOf(cause).message
      throw cause
    }
  }

  /** @throws as openPlate; notFound where it has no plate of that index */
  async plateAt(index: number): Promise<Plate> {
    const plates = await this.plates()
    const plate = plates[index]
    if (plate === undefined)
      throw notFound(`the shot has ${plates.length} plates, counted from 0, and no ${index}`)
    return plate
  }

  /** The search of a number as it would be started now. @throws as openPlate, of the target's */
  async search(number: number): Promise<NextSearch> {
    await this.plates()
    return nextSearch(this.#state, this.#ready!, this.folder, number)
  }

  /** @throws as openPlate, of the target's */
  async opened(): Promise<OpenedShot> {
    const plates = await this.plates()
    const state = this.#state
    const missing = this.#ready!.faults[0] ?? missingIn(state, plates[0]!)
    const args = missing === null ? nextSearch(state, this.#ready!, this.folder, this.nextNumber).args : null
    return {
      state,
      plates: plates.map(aboutPlate),
      command: args === null ? null : typed(args, this.setup.here),
      missing,
    }
  }

  /** @returns its revision @throws where what it names can't be opened: then nothing changes */
  change(change: Change): Promise<number> {
    return this.inTurn(async () => {
      const next = changed(this.#state, change)
      if (next.view.look !== null && next.view.look !== this.#state.view.look) await readLook(next.view.look)
      if (wishOf(next) !== wishOf(this.#state))
        this.#plates = Promise.resolve(await openPlates(next, { strict: true }))
      await this.#become(next)
      return next.revision
    })
  }

  /** A change by the desk itself, such as of its runs. */
  update(update: (state: ShotState) => ShotState): Promise<void> {
    return this.inTurn(async () => {
      const next = update(this.#state)
      await this.#become({ ...next, revision: this.#state.revision + 1 })
    })
  }

  /** Nobody else changes it meanwhile. */
  inTurn<T>(work: () => Promise<T>): Promise<T> {
    const done = this.#turn.then(work)
    this.#turn = done.catch(() => {})
    return done
  }

  async #become(next: ShotState): Promise<void> {
    const before = JSON.stringify({ ...this.summary(), at: '' })
    this.#state = next
    this.at = new Date().toISOString()
    this.#file.save(next)
    // A shot whose plate has gone is changed all the same, by the end of a run.
    const opened = await this.opened().catch((cause) => {
      if (cause instanceof OffcutError) return null
      throw cause
    })
    if (opened !== null) this.setup.events.tell({ kind: 'shot', shot: this.name, opened })
    if (JSON.stringify({ ...this.summary(), at: '' }) !== before) this.setup.onSummary()
  }

  flush(): Promise<void> {
    return this.#file.flush()
  }

  /** Saves it as it is. */
  save(): void {
    this.#file.save(this.#state)
  }

  summary(): ShotSummary {
    const { plate, asked, searches } = this.#state
    return {
      name: this.name,
      plate,
      aim: asked.aim,
      frames: asked.frames,
      searches: searches.length,
      at: this.at,
      ...(this.fault === undefined ? {} : { fault: this.fault }),
    }
  }
}
