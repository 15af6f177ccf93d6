// A file appears whole or not at all: written beside its final name, flushed to the disk, then renamed.
import { randomBytes } from 'node:crypto'
import { promises as fs } from 'node:fs'
import type { FileHandle } from 'node:fs/promises'
import { basename, dirname, join } from 'node:path'
import { type OffcutError, writeError } from '../../errors.js'

export interface WriteOptions {
  /** Replace a file of that name; otherwise it is refused and left alone. Default: false. */
  readonly overwrite?: boolean
  /** Who may read and write it, before the process's mask. Default: 0o666. */
  readonly mode?: number
}

/**
 * Writes bytes, or pieces of them in a row, to a file that did not exist before, or replaces one when told to. Whatever happens, the file holds
 * either all of the new bytes or what it held before, and no temporary file stays behind.
 *
 * @throws OUTPUT_EXISTS (not told to overwrite), DISK_FULL, OUTPUT_UNWRITABLE
 */
export async function writeWhole(
  path: string,
  bytes: Uint8Array | string | readonly Uint8Array[],
  { overwrite = false, mode }: WriteOptions = {},
): Promise<void> {
  await refuseExisting(path, overwrite)
  const temporary = join(
    dirname(path),
    `.${basename(path).slice(0, 80)}.${randomBytes(6).toString('hex')}.part`,
  )
  try {
    const file = await fs.open(temporary, 'wx', mode)
    try {
      if (isList(bytes)) await writeAll(file, bytes)
      else await file.writeFile(bytes)
      // without this a power cut after the rename may leave a file of the right name and no bytes
      await file.sync()
    } finally {
      await file.close()
    }
    await publish(temporary, path, overwrite)
  } catch (cause) {
    await fs.rm(temporary, { force: true }).catch(() => {})
    throw explain(path, cause)
  }
}

function isList(bytes: Uint8Array | string | readonly Uint8Array[]): bytes is readonly Uint8Array[] {
  return Array.isArray(bytes)
}

/** Pieces that go out in one call: Linux takes 1,024. */
const PIECES_AT_ONCE = 512

/** Writes pieces one after the other, without bringing them together in memory first. */
async function writeAll(file: FileHandle, pieces: readonly Uint8Array[]): Promise<void> {
  for (let from = 0; from < pieces.length; from += PIECES_AT_ONCE) {
    const some = pieces.slice(from, from + PIECES_AT_ONCE)
    const wanted = some.reduce((sum, { length }) => sum + length, 0)
    const { bytesWritten } = await file.writev(some)
    // A disk that is all but full takes a part and says nothing: what is left says why when it is asked for.
    if (bytesWritten < wanted) await file.writeFile(Buffer.concat(some).subarray(bytesWritten))
  }
}

/** Refuses before any work is done for a file that could not be written anyway. @throws OUTPUT_EXISTS, OUTPUT_UNWRITABLE */
export async function refuseExisting(path: string, overwrite: boolean): Promise<void> {
  if (overwrite) return
  try {
    await fs.lstat(path)
  } catch (cause) {
    if ((cause as NodeJS.ErrnoException).code === 'ENOENT') return
    throw explain(path, cause)
  }
  throw exists(path)
}

async function publish(temporary: string, path: string, overwrite: boolean): Promise<void> {
  if (overwrite) return fs.rename(temporary, path)
  try {
    // a link never replaces, so of two writers of one name exactly one wins
    await fs.link(temporary, path)
  } catch (cause) {
    if ((cause as NodeJS.ErrnoException).code === 'EEXIST') throw cause
    // no hard links on this kind of disk: look once more, then rename
    await refuseExisting(path, overwrite)
    return fs.rename(temporary, path)
  }
  await fs.unlink(temporary)
}

function exists(path: string, cause?: unknown): OffcutError {
  return writeError(
    'OUTPUT_EXISTS',
    path,
    'exists already',
    'choose another `out`, or say `overwrite`',
    cause,
  )
}

const REASONS: Readonly<Record<string, readonly [code: string, problem: string, remedy: string]>> = {
  ENOSPC: ['DISK_FULL', "can't be written, the disk is full", 'make room or choose another `out`'],
  EDQUOT: ['DISK_FULL', "can't be written, your disk quota is used up", 'make room or choose another `out`'],
  EFBIG: ['DISK_FULL', "can't be written, it is larger than the disk allows", 'choose another `out`'],
  EACCES: ['OUTPUT_UNWRITABLE', "can't be written, permission is denied", 'choose another `out`'],
  EPERM: ['OUTPUT_UNWRITABLE', "can't be written, permission is denied", 'choose another `out`'],
  EROFS: ['OUTPUT_UNWRITABLE', "can't be written, the disk is read-only", 'choose another `out`'],
  ENOENT: ['OUTPUT_UNWRITABLE', "can't be written, its folder does not exist", 'make the folder first'],
  ENOTDIR: ['OUTPUT_UNWRITABLE', "can't be written, its folder is a file", 'choose another `out`'],
  EISDIR: ['OUTPUT_UNWRITABLE', "can't be written, a folder has that name", 'choose another `out`'],
}

/** What is wrong where the system answers so, as a message says it; undefined: it has no words. */
export function problemOf(code: string): string | undefined {
  return REASONS[code]?.[1]
}

function explain(path: string, cause: unknown): unknown {
  const code = (cause as NodeJS.ErrnoException).code ?? ''
  if (code === 'EEXIST') return exists(path, cause)
  const reason = REASONS[code]
  if (reason !== undefined) return writeError(reason[0], path, reason[1], reason[2], cause)
  // an error without a system code is the caller's own and passes through
  if (typeof (cause as NodeJS.ErrnoException).syscall !== 'string') return cause
  return writeError('OUTPUT_UNWRITABLE', path, `can't be written (${code})`, 'choose another `out`', cause)
}
