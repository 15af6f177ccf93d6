// A folder with its parents, and taking away again what was made of them for nothing.
import { mkdir, rmdir } from 'node:fs/promises'
import { dirname } from 'node:path'

/**
 * Makes a folder and whatever of its parents is absent. Node's own recursive mkdir tries for ever where a file system
 * answers ENOENT to every new folder, as /proc does.
 *
 * @returns the folders that were made, outermost first
 * @throws the system's error; what was made until then is gone again
 */
export async function makeFolder(path: string): Promise<string[]> {
  const made: string[] = []
  const make = async (folder: string, mayAscend: boolean): Promise<void> => {
    try {
      await mkdir(folder)
      made.push(folder)
    } catch (cause) {
      const { code } = cause as NodeJS.ErrnoException
      if (code === 'EEXIST' && mayAscend) return
      if (code !== 'ENOENT' || !mayAscend || dirname(folder) === folder) throw cause
      await make(dirname(folder), true)
      await make(folder, false).catch((second: NodeJS.ErrnoException) => {
        // Another run may have made it in between.
        if (second.code !== 'EEXIST') throw second
      })
    }
  }
  try {
    await make(path, true)
  } catch (cause) {
    await removeEmpty(made)
    throw cause
  }
  return made
}

/** Removes folders that `makeFolder` made, innermost first, as far as nothing has been put there since. */
export async function removeEmpty(made: readonly string[]): Promise<void> {
  for (const folder of [...made].reverse()) await rmdir(folder).catch(() => {})
}
