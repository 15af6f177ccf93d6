// A file that appears whole or not at all, and never over another unless told to.
import { randomBytes } from 'node:crypto'
import { access, link, rename, rm, writeFile } from 'node:fs/promises'
import { dirname, join } from 'node:path'
import { writeError } from '../errors.js'

/**
 * Writes `content` under a temporary name in the same folder, then moves it into place.
 *
 * @throws OffcutError `FILE_EXISTS` where there is one already and `overwrite` is false; `WRITE_FAILED` otherwise
 */
export async function writeWhole(
  path: string,
  content: string | Uint8Array,
  { overwrite = false } = {},
): Promise<void> {
  const temporary = join(dirname(path), `.offcut-${randomBytes(6).toString('hex')}.part`)
  try {
    await writeFile(temporary, content, { flag: 'wx' })
    if (overwrite) await rename(temporary, path)
    else await moveUnlessThere(temporary, path)
  } catch (cause) {
    const { code, message } = cause as NodeJS.ErrnoException
    if (code === 'EEXIST') {
      throw writeError(
        'FILE_EXISTS',
        path,
        'is there already',
        'add --overwrite or choose another --out',
        cause,
      )
    }
    throw writeError('WRITE_FAILED', path, `can't be written (${code ?? message})`, remedy(code), cause)
  } finally {
    await rm(temporary, { force: true })
  }
}

/** A hard link refuses an existing name in one step, where asking first and moving then could lose a race. */
async function moveUnlessThere(from: string, to: string): Promise<void> {
  try {
    await link(from, to)
  } catch (cause) {
    const { code } = cause as NodeJS.ErrnoException
    if (code !== 'EPERM' && code !== 'ENOTSUP' && code !== 'ENOSYS') throw cause
    // A disk without hard links (FAT, some network shares).
    await access(to).then(
      () => Promise.reject(Object.assign(new Error('exists'), { code: 'EEXIST' })),
      () => rename(from, to),
    )
  }
}

function remedy(code: string | undefined): string {
  if (code === 'ENOSPC') return 'free some space on that disk'
  if (code === 'ENOENT') return 'make its folder first'
  return 'check that its folder may be written to'
}
