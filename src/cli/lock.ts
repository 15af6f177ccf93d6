// One run at a time in a folder: a file beside it that the kernel keeps locked for as long as the run lives. Nothing has to
// be told from its age or its process number, so a lock is never stale: it ends with its run, however that ends, and with
// its machine where the disk is a network's (NFSv4 leases, RFC 8881 section 8.4).
import { type FileHandle, open, rm, stat } from 'node:fs/promises'
import { hostname } from 'node:os'
import { tryLock } from 'fs-native-extensions'
import { OffcutError, printable, writeError } from '../errors.js'

/** How often a lock's file may be found removed by the run before until somebody else is to blame. */
const MAX_ATTEMPTS = 100

/**
 * Locks a file, which is made where there is none and removed at the end.
 *
 * @param path   the lock's file
 * @param folder what it is for, named in errors
 * @returns what gives the lock back
 * @throws OUTPUT_LOCKED with the process that holds it, OUTPUT_UNWRITABLE on a disk that keeps no locks
 */
export async function lockFile(path: string, folder: string): Promise<() => Promise<void>> {
  for (let attempt = 0; attempt < MAX_ATTEMPTS; attempt++) {
    const file = await open(path, 'a+')
    try {
      if (!take(file, folder)) throw locked(folder, await holderOf(file))
      // The run before may have removed this very file between the two lines above: then a newer one counts.
      if (await isAt(path, file)) {
        await file.truncate()
        await file.appendFile(JSON.stringify({ pid: process.pid, host: hostname() }))
        return async () => {
          // Removed while it is still locked: whoever opened it meanwhile sees that it is no longer there.
          await rm(path, { force: true }).catch(() => {})
          await file.close()
        }
      }
    } catch (cause) {
      await file.close()
      throw cause
    }
    await file.close()
  }
  throw locked(folder, null)
}

/** Whether a run that lives holds this lock. */
export async function isLocked(path: string): Promise<boolean> {
  const file = await open(path, 'r+').catch(() => null)
  if (file === null) return false
  try {
    return !tryLock(file.fd)
  } catch {
    return false
  } finally {
    await file.close()
  }
}

function take(file: FileHandle, folder: string): boolean {
  try {
    return tryLock(file.fd)
  } catch (cause) {
    const problem = `can't be kept for one run, its disk has no file locks (${(cause as NodeJS.ErrnoException).code})`
    throw writeError('OUTPUT_UNWRITABLE', folder, problem, 'choose another --out', cause)
  }
}

async function isAt(path: string, file: FileHandle): Promise<boolean> {
  const [named, held] = await Promise.all([
    stat(path, { bigint: true }).catch(() => null),
    file.stat({ bigint: true }),
  ])
  return named !== null && named.ino === held.ino && named.dev === held.dev
}

interface Holder {
  readonly pid: number
  readonly host: string
}

async function holderOf(file: FileHandle): Promise<Holder | null> {
  try {
    const { pid, host } = JSON.parse(await file.readFile('utf8')) as Partial<Holder>
    return typeof pid === 'number' && typeof host === 'string' ? { pid, host } : null
  } catch {
    // It has just begun, or its disk lets nobody read what is locked.
    return null
  }
}

function locked(folder: string, holder: Holder | null): OffcutError {
  const by = holder === null ? 'another run' : `process ${holder.pid} on ${printable(holder.host)}`
  return new OffcutError(
    'OUTPUT_LOCKED',
    `${printable(folder)} is being written by ${by}: wait for it, or choose another --out`,
    1,
  )
}
