// What offcut made in a folder and what it did not: the first is replaced by a later run, the second goes with the folder.
import {
  chmod,
  constants,
  copyFile,
  link,
  lstat,
  mkdir,
  readdir,
  readFile,
  readlink,
  rmdir,
  symlink,
  writeFile,
} from 'node:fs/promises'
import { join } from 'node:path'

/** Names what offcut wrote in its folder, as a JSON array of paths with `/`; hidden, so that no plate counts it. */
export const MADE_FILE = '.offcut-files.json'

/** The lock and the unfinished folder of a run into a folder below. */
const WORKING = /^\..+\.offcut-(lock|part)$/

/** What offcut wrote into a folder; nothing where it does not say. */
export async function readMade(folder: string): Promise<Set<string>> {
  try {
    const names: unknown = JSON.parse(await readFile(join(folder, MADE_FILE), 'utf8'))
    return new Set(Array.isArray(names) ? names.filter((name) => typeof name === 'string') : [])
  } catch {
    return new Set()
  }
}

export async function writeMade(folder: string, made: Iterable<string>): Promise<void> {
  await writeFile(join(folder, MADE_FILE), `${JSON.stringify([...made].sort(), null, 1)}\n`)
}

/** All files below a folder, as paths with `/`, folders left out. */
export async function filesBelow(folder: string, below = ''): Promise<string[]> {
  const found: string[] = []
  for (const entry of await readdir(join(folder, below), { withFileTypes: true })) {
    const path = below === '' ? entry.name : `${below}/${entry.name}`
    if (entry.isDirectory()) found.push(...(await filesBelow(folder, path)))
    else found.push(path)
  }
  return found
}

/**
 * Puts into `to` whatever `from` holds beside `leave`; `from` stays as it is. Files are hard links where the disk has
 * them, so that hundreds of frames cost nothing. What `to` has already is not touched.
 *
 * @param leave paths with `/`, below `from`
 * @returns the outermost paths that were put there, sorted
 */
export async function carryOver(from: string, to: string, leave: ReadonlySet<string>): Promise<string[]> {
  return (await carryBelow(from, to, leave, '')).sort()
}

async function carryBelow(
  from: string,
  to: string,
  leave: ReadonlySet<string>,
  below: string,
): Promise<string[]> {
  const carried: string[] = []
  for (const entry of await readdir(join(from, below), { withFileTypes: true })) {
    const path = below === '' ? entry.name : `${below}/${entry.name}`
    if (leave.has(path) || WORKING.test(entry.name)) continue
    const [source, target] = [join(from, path), join(to, path)]
    if (!entry.isDirectory()) {
      if (await carryFile(source, target, entry.isSymbolicLink())) carried.push(path)
      continue
    }
    const isNew = await mkdir(target).then(
      () => true,
      (cause: NodeJS.ErrnoException) => {
        if (cause.code === 'EEXIST') return false
        throw cause
      },
    )
    const inside = await carryBelow(from, to, leave, path)
    // A folder in which all was an earlier run's goes with it; an empty one is somebody's.
    if (isNew && inside.length === 0 && [...leave].some((made) => made.startsWith(`${path}/`))) {
      await rmdir(target)
      continue
    }
    if (isNew) await chmod(target, (await lstat(source)).mode & 0o7777).catch(() => {})
    if (isNew) carried.push(path)
    else carried.push(...inside)
  }
  return carried
}

/** @returns false where there is a file of that name already */
async function carryFile(source: string, target: string, isLink: boolean): Promise<boolean> {
  try {
    await (isLink ? symlink(await readlink(source), target) : link(source, target))
  } catch (cause) {
    const { code } = cause as NodeJS.ErrnoException
    if (code === 'EEXIST') return false
    if (isLink) throw cause
    // No hard links on this kind of disk, or as many as it takes.
    await copyFile(source, target, constants.COPYFILE_FICLONE | constants.COPYFILE_EXCL)
  }
  return true
}
