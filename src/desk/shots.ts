// All shots of a desk: a folder each below its own, named after the plate.
import { mkdir, readdir, stat } from 'node:fs/promises'
import { join } from 'node:path'
import { plateError, writeError } from '../errors.js'
import { locatePlate } from '../footage/locate.js'
import { openPlate } from '../footage/plate.js'
import { makeFolder } from '../footage/write/make-folder.js'
import type { Events } from './events.js'
import type { ShotSummary } from './messages.js'
import { notFound, Refused, sentenceOf } from './refused.js'
import { settled } from './run-states.js'
import { Shot } from './shot.js'
import { refuseInFootage } from './shot-plates.js'
import { newShot } from './shot-state.js'
import { readState } from './state-file.js'

export interface ShotsSetup {
  /** Absolute; made where it is not there. */
  readonly out: string
  readonly here: string
  readonly events: Events
}

export class Shots {
  readonly #shots = new Map<string, Shot>()
  /** Folders whose desk.json is broken. */
  readonly #broken = new Map<string, ShotSummary>()
  #adding: Promise<unknown> = Promise.resolve()

  private constructor(readonly setup: ShotsSetup) {}

  /** @throws OUTPUT_UNWRITABLE */
  static async at(setup: ShotsSetup): Promise<Shots> {
    const shots = new Shots(setup)
    await makeFolder(setup.out).catch((cause) => {
      const problem = `can't be made (${(cause as NodeJS.ErrnoException).code})`
      throw writeError('OUTPUT_UNWRITABLE', setup.out, problem, 'choose another --out', cause)
    })
    const entries = await readdir(setup.out, { withFileTypes: true }).catch((cause) => {
      const problem = `can't be listed (${(cause as NodeJS.ErrnoException).code})`
      throw plateError('OUTPUT_UNWRITABLE', setup.out, problem, 'choose another --out', { cause })
    })
    const folders = entries.filter((e) => e.isDirectory() && !e.name.startsWith('.'))
    await Promise.all(folders.map(({ name }) => shots.#load(name)))
    return shots
  }

  async #load(name: string): Promise<void> {
    const folder = join(this.setup.out, name)
    const path = join(folder, 'desk.json')
    const found = await stat(path).catch(() => null)
    if (found === null) return
    const at = found.mtime.toISOString()
    try {
      const state = await readState(path)
      const now = await settled(state, folder)
      const shot = new Shot(now, at, {
        ...this.setup,
        folder,
        nextNumber: await nextIn(folder),
        onSummary: () => this.tell(),
      })
      this.#shots.set(name, shot)
      if (now !== state) shot.save()
      await locatePlate(shot.state.plate).catch((cause) => {
        shot.fault = sentenceOf(cause).message
      })
    } catch (cause) {
      const fault = sentenceOf(cause).message
      this.#broken.set(name, { name, plate: '', aim: 'hide', frames: '', searches: 0, at, fault })
    }
  }

  /** The one changed last comes first. */
  list(): ShotSummary[] {
    const all = [...[...this.#shots.values()].map((shot) => shot.summary()), ...this.#broken.values()]
    return all.sort((a, b) => (a.at < b.at ? 1 : a.at > b.at ? -1 : a.name < b.name ? -1 : 1))
  }

  all(): IterableIterator<Shot> {
    return this.#shots.values()
  }

  /** @throws Refused 404, 409 where its desk.json is broken */
  get(name: string): Shot {
    const shot = this.#shots.get(name)
    if (shot !== undefined) return shot
    const broken = this.#broken.get(name)
    if (broken !== undefined) throw new Refused(409, 'DESK_FILE_BAD', broken.fault!)
    throw notFound('there is no shot of that name')
  }

  /** Opens a plate as a new shot. @throws as openPlate; OUTPUT_IN_FOOTAGE, OUTPUT_UNWRITABLE */
  add(spec: string): Promise<Shot> {
    const added = this.#adding.then(() => this.#add(spec))
    this.#adding = added.catch(() => {})
    return added
  }

  /** The shot of a plate that was changed last, or a new one. @throws as add */
  async of(spec: string): Promise<Shot> {
    const plate = await openPlate(spec)
    const known = this.list().find((shot) => shot.plate === plate.spec)
    const shot = known === undefined ? await this.add(spec) : this.get(known.name)
    // What is asked for now stands first in the list.
    shot.at = new Date().toISOString()
    return shot
  }

  async #add(spec: string): Promise<Shot> {
    const plate = await openPlate(spec)
    await refuseInFootage(this.setup.out, plate)
    const folder = await this.#newFolder(plate.stem)
    const state = newShot(folder.name, plate.spec, plate.first)
    const shot = new Shot(state, new Date().toISOString(), {
      ...this.setup,
      folder: folder.path,
      nextNumber: 1,
      onSummary: () => this.tell(),
    })
    this.#shots.set(folder.name, shot)
    shot.save()
    this.tell()
    return shot
  }

  /** Makes `quay`, or `quay-2` where there is one. */
  async #newFolder(stem: string): Promise<{ name: string; path: string }> {
    const plain =
      stem
        .replace(/[^\p{L}\p{N}._+-]+/gu, '-')
        .replace(/^[.-]+/, '')
        .slice(0, 60) || 'shot'
    for (let n = 1; ; n++) {
      const name = n === 1 ? plain : `${plain}-${n}`
      const path = join(this.setup.out, name)
      try {
        await mkdir(path)
        return { name, path }
      } catch (cause) {
        const { code } = cause as NodeJS.ErrnoException
        if (code === 'EEXIST') continue
        throw writeError('OUTPUT_UNWRITABLE', path, `can't be made (${code})`, 'choose another --out', cause)
      }
    }
  }

  tell(): void {
    this.setup.events.tell({ kind: 'shots', shots: this.list() })
  }

  /** All states are on disk then. */
  async flush(): Promise<void> {
    await Promise.all([...this.#shots.values()].map((shot) => shot.flush()))
  }
}

/** One above the highest number that a search or a mask in a shot's folder has. */
async function nextIn(folder: string): Promise<number> {
  const numbers = (await readdir(folder)).map((name) =>
    Number(/^\.?(?:search|region|avoid|look-in)-(\d{1,9})\b/.exec(name)?.[1] ?? 0),
  )
  return Math.max(0, ...numbers) + 1
}
