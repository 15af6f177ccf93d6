// All that a desk has open: its shots, their pictures and strips, what runs for them, and the pages that listen.
import { dirname, resolve } from 'node:path'
import { openPlate } from '../footage/plate.js'
import { Events } from './events.js'
import { Folders } from './folders.js'
import type { Message, OpenedShot } from './messages.js'
import { Pictures } from './pictures/pictures.js'
import { Runs } from './runs.js'
import { Shots } from './shots.js'

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
  readonly folders = new Folders()

  private constructor(
    readonly shots: Shots,
    readonly events: Events,
    readonly runs: Runs,
  ) {}

  /** @throws as openPlate, of the plates that are named; OUTPUT_UNWRITABLE, OUTPUT_IN_FOOTAGE */
  static async open({ plates, out, here }: DeskSetup): Promise<Desk> {
    const events = new Events()
    const desk = new Desk(await Shots.at({ out, here, events }), events, new Runs(here, events))
    await desk.folders.allow(here)
    for (const spec of plates) {
      const { folder } = await openPlate(resolve(here, spec))
      // Other takes lie beside the plate.
      await desk.folders.allow(dirname(folder))
      await desk.shots.of(resolve(here, spec))
    }
    return desk
  }

  /** A shot that a page looks at. @throws as Shots.get and openPlate */
  async open(name: string): Promise<OpenedShot> {
    return this.shots.get(name).opened()
  }

  /** What a page that has just come is told. */
  *known(): Iterable<Message> {
    yield { kind: 'shots', shots: this.shots.list() }
    yield* this.runs.known()
  }

  /** Everything ends, and what is not saved yet is. */
  async close(): Promise<void> {
    await this.runs.close()
    this.events.close()
    await this.shots.flush()
    await this.pictures.close()
  }
}
