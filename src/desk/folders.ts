// What lies in a folder that may be opened as a plate, for those who pick one instead of typing its name.
import { readdir, realpath } from 'node:fs/promises'
import { dirname, join, sep } from 'node:path'
import { MOVIE_EXTENSIONS } from '../footage/locate.js'
import { sequencesIn } from '../footage/naming.js'
import { extensionOf, FRAME_EXTENSIONS } from '../footage/readers.js'
import type { FolderList } from './messages.js'
import { notFound } from './refused.js'

/** Entries of a folder that are listed. */
const MAX_LISTED = 2000

/** Folders that may be looked into, with all that lies below them. */
export class Folders {
  readonly #roots = new Set<string>()

  async allow(folder: string): Promise<void> {
    this.#roots.add(await realpath(folder))
  }

  /** @param at absolute; left out: the folders to begin with @throws Refused 404 where it is not there or may not be looked into */
  async list(at?: string): Promise<FolderList> {
    if (at === undefined) {
      const folders = [...this.#roots].sort().map((path) => ({ name: path, path }))
      return { at: null, parent: null, folders, plates: [] }
    }
    const folder = await realpath(at).catch(() => null)
    // A folder that may not be seen and one that is not there get the same answer.
    if (folder === null || !this.#allows(folder)) throw notFound('there is no such folder to look into')
    const entries = await readdir(folder, { withFileTypes: true }).catch(() => {
      throw notFound('this folder can not be listed')
    })
    const seen = entries.filter(({ name }) => !name.startsWith('.')).slice(0, MAX_LISTED)
    const folders = seen
      .filter((e) => e.isDirectory())
      .map(({ name }) => ({ name, path: join(folder, name) }))
    const files = seen.filter((e) => e.isFile() || e.isSymbolicLink()).map(({ name }) => name)
    const frames = files.filter((name) => FRAME_EXTENSIONS.includes(extensionOf(name)))
    const sequences = sequencesIn(frames).map(({ name, files: numbered }) => {
      const [first] = numbered.values()
      return { name, spec: join(folder, first!), frames: numbered.size }
    })
    const movies = files
      .filter((name) => MOVIE_EXTENSIONS.includes(extensionOf(name)))
      .map((name) => ({ name, spec: join(folder, name), frames: null }))
    const parent = dirname(folder)
    return {
      at: folder,
      parent: parent !== folder && this.#allows(parent) ? parent : null,
      folders: folders.sort((a, b) => (a.name < b.name ? -1 : 1)),
      plates: [...sequences, ...movies],
    }
  }

  #allows(real: string): boolean {
    return [...this.#roots].some(
      (root) => real === root || real.startsWith(root.endsWith(sep) ? root : root + sep),
    )
  }
}
