// All that a desk has open: its shots, their pictures and strips, what runs for them, and the pages that listen.
import { dirname, resolve } from 'node:path'
import { OffcutError } from '../errors.js'
import { openPlate } from '../footage/plate.js'
import { Events } from './events.js'
import { Folders } from './folders.js'
import type { Begin, Message, OpenedShot } from './messages.js'
import { Pictures } from './pictures/pictures.js'
import { Previews } from './pictures/previews.js'
import { proxyWidth } from './proxy-size.js'
import { Runs } from './runs.js'
import type { Shot } from './shot.js'
import type { Change } from './shot-state.js'
import { Shots } from './shots.js'
import { Strips } from './strips.js'
import { Surfaces } from './surfaces.js'

export interface DeskSetup {
  /** Plates that shots are opened of at once. */
  readonly plates: readonly string[]
  /** Absolute. */
  readonly out: string
  /** Where commands are typed, absolute. */
  readonly here: string
}

export class Desk {
  readonly pictures = new Pictures()
  readonly previews = new Previews()
  readonly folders = new Folders()
  readonly strips: Strips
  readonly surfaces: Surfaces
  readonly #closing = new AbortController()
  /** The one shot that the desk was started for. */
  #named: string | null = null

  private constructor(
    readonly shots: Shots,
    readonly events: Events,
    readonly runs: Runs,
  ) {
    this.strips = new Strips(this.pictures, events)
    this.surfaces = new Surfaces(this.strips, events)
  }

  /** @throws as openPlate, of the plates that are named; OUTPUT_UNWRITABLE, OUTPUT_IN_FOOTAGE */
  static async open({ plates, out, here }: DeskSetup): Promise<Desk> {
    const events = new Events()
    const desk = new Desk(await Shots.at({ out, here, events }), events, new Runs(here, events))
    await desk.folders.allow(here)
    for (const spec of plates) {
      const { folder } = await openPlate(resolve(here, spec))
      // Other takes lie beside the plate.
      await desk.folders.allow(dirname(folder))
      const shot = await desk.shots.of(resolve(here, spec))
      if (plates.length === 1) {
        desk.#named = shot.name
        void desk.#expect(shot)
      }
    }
    return desk
  }

  /** A page will ask for this shot's frame next: it is decoded while the browser starts. */
  async #expect(shot: Shot): Promise<void> {
    const { frame, ...tone } = shot.state.view
    try {
      const plate = await shot.plateAt(0)
      const shown = { width: proxyWidth(plate.width), ...tone }
      await this.pictures.jpeg({ plate, frame, rect: null, shown }, 'now', this.#closing.signal)
    } catch {
      // Whoever asks for it is told.
    }
  }

  /** What a page begins with: the shot that the desk was started for, or the only one that there is. */
  async begin(): Promise<Begin> {
    const shots = this.shots.list()
    const [first, another] = shots
    const name = this.#named ?? (another === undefined ? first?.name : undefined)
    if (name === undefined) return { shots, open: null }
    try {
      return { shots, open: { name, opened: await this.shots.get(name).opened() } }
    } catch (cause) {
      // The page shows the list, and what is wrong with that one.
      if (cause instanceof OffcutError) return { shots: this.shots.list(), open: null }
      throw cause
    }
  }

  /** A shot that a page looks at, which its strip is measured for. @throws as Shots.get and openPlate */
  async open(name: string): Promise<OpenedShot> {
    const shot = this.shots.get(name)
    await this.strips.follow(shot)
    await this.surfaces.follow(shot)
    return shot.opened()
  }

  /** @returns its revision @throws as Shot.change */
  async change(name: string, change: Change): Promise<number> {
    const shot = this.shots.get(name)
    const revision = await shot.change(change)
    await this.strips.follow(shot)
    await this.surfaces.follow(shot)
    return revision
  }

  /** What a page that has just come is told. */
  *known(): Iterable<Message> {
    yield { kind: 'shots', shots: this.shots.list() }
    yield* this.strips.known()
    yield* this.surfaces.known()
    yield* this.runs.known()
  }

  /** Everything ends, and what is not saved yet is. */
  async close(): Promise<void> {
    this.#closing.abort()
    await this.runs.close()
    this.strips.close()
    this.surfaces.close()
    this.events.close()
    await this.shots.flush()
    await Promise.all([this.pictures.close(), this.previews.close()])
  }
}
