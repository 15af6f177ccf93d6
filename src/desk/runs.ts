// Searches and patches of the shots: each is the command that the page shows, run as a process, one search a shot and one patch a
// search at a time.
import { mkdir, rename, rm, stat, writeFile } from 'node:fs/promises'
import { basename, dirname, join } from 'node:path'
import { writeWhole } from '../footage/write/file.js'
import { pick } from '../repair/repair.js'
import { readResult } from '../search/result-file.js'
import { kindOf } from '../sheet/patch-folder.js'
import { type CommandChild, startCommand, type Told } from './command-child.js'
import { patchArguments, typed } from './command-line.js'
import type { Events } from './events.js'
import type { Message } from './messages.js'
import { Paced } from './paced.js'
import { notFound, Refused } from './refused.js'
import { withRun } from './run-states.js'
import type { Shot } from './shot.js'
import type { SearchRun } from './shot-state.js'

/** A ranking is looked at, a bar watched. */
const RANKING_MS = 500
const PROGRESS_MS = 100

interface Running extends CommandChild {
  /** What a page that comes now is told: the last of a kind, and all rows. */
  readonly known: Map<string, Message>
}

export class Runs {
  /** By shot and folder below it. */
  readonly #running = new Map<string, Running>()
  readonly #paced: Paced
  #starting: Promise<unknown> = Promise.resolve()
  #isClosed = false

  constructor(
    readonly here: string,
    readonly events: Events,
  ) {
    this.#paced = new Paced((message) => events.tell(message))
  }

  /** Starts what the shot asks for. @returns its folder @throws Refused 409; OUTPUT_UNWRITABLE, DISK_FULL */
  search(shot: Shot): Promise<string> {
    return this.#inTurn(async () => {
      const { missing } = await shot.opened()
      if (missing !== null) throw new Refused(409, 'SEARCH_MISSES', missing)
      if (this.#searchOf(shot) !== undefined)
        throw new Refused(409, 'SEARCH_RUNS', 'a search of this shot runs already: stop it, or wait for it')
      const number = shot.nextNumber++
      const { args, masks } = await shot.search(number)
      await writeMasks(masks, shot.folder)
      const folder = `search-${number}`
      const run = {
        folder,
        command: typed(args, this.here),
        state: 'running',
        at: new Date().toISOString(),
      } as const
      await shot.update((s) => ({ ...s, searches: [...s.searches, { ...run, patches: [] }] }))
      this.#start(shot, folder, args)
      return folder
    })
  }

  /** @throws Refused 409 where none runs */
  async stopSearch(shot: Shot): Promise<void> {
    const running = this.#searchOf(shot)
    if (running === undefined) throw new Refused(409, 'NOTHING_RUNS', 'no search of this shot runs')
    await running.stop()
  }

  /** The command that would write a patch of a candidate now. @throws Refused 404, 409; MISUSE */
  async patchCommand(
    shot: Shot,
    search: string,
    candidate: string,
  ): Promise<{ args: string[]; folder: string }> {
    const found = searchIn(shot, search)
    if (found.state !== 'done') throw new Refused(409, 'SEARCH_NOT_DONE', 'this search has no result')
    const { result } = await readResult(join(shot.folder, search))
    const { id, moment } = pick(result, candidate)
    const { patch } = shot.state
    const kind = kindOf({ whole: patch.whole, ratio: moment !== undefined })
    const folder = await freeFolder(shot, found, `${kind}-${id}`)
    const args = patchArguments(join(shot.folder, search), id, patch, result.aim, join(shot.folder, folder))
    return { args, folder }
  }

  /** Writes a patch with the shot's settings. @returns its folder @throws as patchCommand */
  patch(shot: Shot, search: string, candidate: string): Promise<string> {
    return this.#inTurn(async () => {
      const { args, folder } = await this.patchCommand(shot, search, candidate)
      if (this.#patchOf(shot, search) !== undefined)
        throw new Refused(
          409,
          'PATCH_RUNS',
          'a patch of this search is being written: stop it, or wait for it',
        )
      const at = new Date().toISOString()
      const run = { folder, command: typed(args, this.here), state: 'running', at, candidate } as const
      await shot.update((s) => ({
        ...s,
        searches: s.searches.map((of) =>
          of.folder === search ? { ...of, patches: [...of.patches, run] } : of,
        ),
      }))
      this.#start(shot, folder, args)
      return folder
    })
  }

  /** @throws Refused 404, 409 where none is being written */
  async stopPatch(shot: Shot, search: string): Promise<void> {
    searchIn(shot, search)
    const running = this.#patchOf(shot, search)
    if (running === undefined)
      throw new Refused(409, 'NOTHING_RUNS', 'no patch of this search is being written')
    await running.stop()
  }

  *known(): Iterable<Message> {
    for (const { known } of this.#running.values()) yield* known.values()
  }

  /** All are stopped, and their shots know. */
  async close(): Promise<void> {
    this.#isClosed = true
    await this.#starting
    const all = [...this.#running.values()]
    await Promise.all(all.map((running) => running.stop()))
  }

  #start(shot: Shot, folder: string, args: readonly string[]): void {
    const key = join(shot.folder, folder)
    const known = new Map<string, Message>()
    const child = startCommand(args, this.here, (told) => {
      const message = messageOf(shot.name, folder, told)
      known.set(told.kind === 'row' ? `row ${told.target}` : told.kind, message)
      if (told.kind === 'row') this.events.tell(message)
      else
        this.#paced.pass(`${key} ${told.kind}`, message, told.kind === 'ranking' ? RANKING_MS : PROGRESS_MS)
    })
    const ended = child.ended.then(async (ending) => {
      for (const kind of ['progress', 'ranking']) this.#paced.end(`${key} ${kind}`)
      await shot.update((state) => withRun(state, folder, (run) => ({ ...run, ...ending })))
      this.#running.delete(key)
      return ending
    })
    this.#running.set(key, {
      ended,
      known,
      stop: async () => {
        await child.stop()
        await ended
      },
    })
  }

  #searchOf(shot: Shot): Running | undefined {
    return shot.state.searches.map(({ folder }) => this.#running.get(join(shot.folder, folder))).find(Boolean)
  }

  #patchOf(shot: Shot, search: string): Running | undefined {
    const below = join(shot.folder, search)
    return [...this.#running].find(([key]) => dirname(key) === below)?.[1]
  }

  #inTurn<T>(work: () => Promise<T>): Promise<T> {
    const done = this.#starting.then(() => {
      if (this.#isClosed) throw new Refused(409, 'DESK_ENDS', 'the desk is ending')
      return work()
    })
    this.#starting = done.catch(() => {})
    return done
  }
}

function messageOf(shot: string, folder: string, told: Told): Message {
  // What a search of ours proposes has the shape that its result is checked by.
  return { shot, folder, ...told } as unknown as Message
}

export function searchIn(shot: Shot, folder: string): SearchRun {
  const found = shot.state.searches.find((search) => search.folder === folder)
  if (found === undefined) throw notFound('the shot has no search of that name')
  return found
}

/** A mask by itself appears whole, one that is a file a frame as a whole folder. */
async function writeMasks(masks: ReadonlyMap<string, () => string>, shot: string): Promise<void> {
  const folders = new Map<string, [name: string, text: () => string][]>()
  for (const [path, text] of masks) {
    const folder = dirname(path)
    if (folder === shot) await writeWhole(path, text())
    else folders.set(folder, [...(folders.get(folder) ?? []), [basename(path), text]])
  }
  for (const [folder, files] of folders) {
    const staging = join(dirname(folder), `.${basename(folder)}.part`)
    await rm(staging, { recursive: true, force: true })
    await mkdir(staging)
    for (const [name, text] of files) await writeFile(join(staging, name), text())
    await rename(staging, folder)
  }
}

/** A folder for a patch that is not there yet, below the shot's. */
async function freeFolder(shot: Shot, { folder, patches }: SearchRun, name: string): Promise<string> {
  const taken = new Set(patches.map((patch) => patch.folder))
  for (let n = 1; ; n++) {
    const path = `${folder}/${n === 1 ? name : `${name}-${n}`}`
    // One that failed or was stopped left nothing, but is still told of.
    if (!taken.has(path) && (await stat(join(shot.folder, path)).catch(() => null)) === null) return path
  }
}
