// A new folder in an old one's place, at one stroke.
import { lstat, readFile, rename, rm, stat } from 'node:fs/promises'
import { dirname, sep } from 'node:path'
import { swap } from 'fs-native-extensions'

/**
 * Gives `next` the place of `folder`, and the old one the place of `next`. Where the disk can exchange names (Linux's
 * renameat2, macOS's renamex_np) whoever looks sees either the one or the other. Where it can't (NFS, SMB), there is
 * nothing under the name for a moment, and the old folder lies under `aside`: see `restore`.
 *
 * @param exchange stands in for the disk in tests
 */
export async function replaceFolder(
  next: string,
  folder: string,
  aside: string,
  exchange: (from: string, to: string) => Promise<void> = swap,
): Promise<void> {
  if ((await lstat(folder).catch(() => null)) === null) return rename(next, folder)
  try {
    await exchange(next, folder)
  } catch (cause) {
    if (!NO_EXCHANGE.has((cause as NodeJS.ErrnoException).code ?? '')) {
      throw Object.assign(cause as Error, { syscall: 'rename' })
    }
    await rename(folder, aside)
    await rename(next, folder).catch(async (failure) => {
      await rename(aside, folder)
      throw failure
    })
    await rename(aside, next)
  }
}

/** What disks say that can't exchange two names. */
const NO_EXCHANGE = new Set(['EINVAL', 'ENOSYS', 'ENOTSUP', 'EOPNOTSUPP'])

/** Mends what a run left that was killed between two renames: the old folder comes back. */
export async function restore(folder: string, aside: string): Promise<void> {
  // With a folder in its place it is what was replaced, whose keeper was killed before he could clear it away.
  if ((await lstat(folder).catch(() => null)) !== null) return rm(aside, { recursive: true, force: true })
  await rename(aside, folder).catch((cause: NodeJS.ErrnoException) => {
    if (cause.code !== 'ENOENT') throw cause
  })
}

/** Whether a disk begins at this folder or below it, which can then not be moved; false where there is no such folder. */
export async function holdsMountPoint(folder: string): Promise<boolean> {
  const [own, parent] = await Promise.all([stat(folder).catch(() => null), stat(dirname(folder))])
  if (own === null) return false
  if (own.dev !== parent.dev) return true
  // A folder of the same disk may be mounted, too; only Linux says so. proc(5): field 5, with octal escapes.
  const mounts = await readFile('/proc/self/mountinfo', 'utf8').catch(() => '')
  return mounts.split('\n').some((line) => {
    const raw = line.split(' ')[4] ?? ''
    const place = raw.replace(/\\([0-7]{3})/g, (_, code) => String.fromCharCode(Number.parseInt(code, 8)))
    return place === folder || place.startsWith(folder + sep)
  })
}
