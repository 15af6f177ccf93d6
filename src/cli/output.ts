// The folder a command writes to: never a plate's own, never over files that are there, all of it or nothing.
import { createHash } from 'node:crypto'
import { mkdir, readdir, readFile, realpath, rm, stat } from 'node:fs/promises'
import { basename, dirname, join, resolve, sep } from 'node:path'
import { misuse, OffcutError, printable, writeError } from '../errors.js'
import { problemOf } from '../footage/write/file.js'
import { nearestReal, refuseWithin } from '../footage/write/in-footage.js'
import { makeFolder, removeEmpty } from '../footage/write/make-folder.js'
import { carryOver, filesBelow, MADE_FILE, readMade, writeMade } from './carry-over.js'
import { isLocked, lockFile } from './lock.js'
import { holdsMountPoint, replaceFolder, restore } from './replace-folder.js'

export interface OutputOptions {
  readonly overwrite: boolean
  /** Folders that hold footage or masks: nothing may be written there. */
  readonly footage: readonly string[]
  /** Adds to what offcut made there before, instead of replacing all of it. Default: false. */
  readonly adds?: boolean
  /** Is told what of an earlier content was kept, and what is gone. */
  readonly note: (text: string) => void
}

/**
 * Runs `write` on an empty folder beside `out` and, when it has ended well, gives it the place of `out`. Whenever a run is
 * stopped, and by whatever means, `out` is wholly the old folder or wholly the new one; what a killed run leaves beside it
 * is cleared by the next. Of an earlier run's files none stay, and what offcut did not make is kept; both are said.
 *
 * @throws MISUSE (the folder one stands in), OUTPUT_IN_FOOTAGE, OUTPUT_HOLDS_FOOTAGE, OUTPUT_EXISTS, OUTPUT_LOCKED, OUTPUT_UNWRITABLE, DISK_FULL
 */
export function writeFolder(
  out: string,
  options: OutputOptions,
  write: (staging: string) => Promise<void>,
): Promise<void> {
  return onStaging(out, options, async (staging, folder) => {
    await write(staging)
    await publish(staging, folder, options)
  })
}

/**
 * Refuses what `writeFolder` would refuse before it writes, for work that ends before there is anything to write. Leaves
 * everything as it is.
 *
 * @throws as writeFolder
 */
export function refuseFolder(out: string, options: OutputOptions): Promise<void> {
  return onStaging(out, options, async () => {})
}

async function onStaging(
  out: string,
  options: OutputOptions,
  work: (staging: string, folder: string) => Promise<void>,
): Promise<void> {
  const folder = await nearestReal(resolve(out))
  await refuseFootage(resolve(out), folder, options.footage)
  const parents: string[] = []
  try {
    const release = await lockWithin(folder, parents)
    const staging = besideOf(folder, 'part')
    try {
      await restore(folder, besideOf(folder, 'old'))
      await rm(staging, { recursive: true, force: true })
      await refuseHeld(folder, out, options.overwrite)
      await mkdir(staging)
      await work(staging, folder)
    } finally {
      // Only its own: whatever else is beside is another run's, or the user's.
      await rm(staging, { recursive: true, force: true }).catch(() => {})
      await release()
    }
  } catch (cause) {
    throw explain(folder, cause)
  } finally {
    await removeEmpty(parents)
  }
}

/**
 * Makes the folder's parents and locks it.
 *
 * @param made takes the parents that were made
 */
async function lockWithin(folder: string, made: string[]): Promise<() => Promise<void>> {
  for (let attempt = 1; ; attempt++) {
    made.push(...(await makeFolder(dirname(folder))))
    try {
      return await lockFile(besideOf(folder, 'lock'), folder)
    } catch (cause) {
      // Another run that had made the parent may just have taken it away again.
      if ((cause as NodeJS.ErrnoException).code !== 'ENOENT' || attempt === MAX_ATTEMPTS) throw cause
    }
  }
}
const MAX_ATTEMPTS = 20

/** Refuses a folder that holds something or can't be replaced, before any work is done. */
async function refuseHeld(folder: string, out: string, overwrite: boolean): Promise<void> {
  const found = await stat(folder).catch(() => null)
  if (found === null) return
  if (!found.isDirectory()) {
    const problem = "can't be written, a file has its name (EEXIST)"
    throw writeError('OUTPUT_UNWRITABLE', folder, problem, 'choose another --out')
  }
  const names = await readdir(folder)
  const held = names.filter((name) => name !== MADE_FILE).sort()
  if (held.length > 0 && !names.includes(MADE_FILE)) {
    // A whole folder is replaced, and it may be somebody's home.
    if (await holdsResult(folder)) {
      const problem = 'holds a result, but no list of what offcut made there: an earlier version wrote none'
      throw writeError('OUTPUT_EXISTS', folder, problem, 'remove it by hand, or choose another --out')
    }
    const problem = `holds files that offcut did not make (${printable(held[0])})`
    throw writeError('OUTPUT_EXISTS', folder, problem, 'choose another --out')
  }
  if (held.length > 0 && !overwrite) {
    throw writeError(
      'OUTPUT_EXISTS',
      folder,
      `holds files already (${printable(held[0])})`,
      'choose another --out, or say --overwrite',
    )
  }
  const here = await realpath('.').catch(() => '')
  if (here === folder || here.startsWith(folder + sep)) {
    // It would be left in a folder that has no name any more.
    throw misuse('--out', 'a folder that you do not stand in, because it is replaced as a whole', out)
  }
  if (await holdsMountPoint(folder)) {
    const problem = 'is or holds a disk of its own, so it can not be replaced as a whole'
    throw writeError('OUTPUT_UNWRITABLE', folder, problem, 'choose another --out, such as a folder in it')
  }
  await refuseBusy(folder)
}

async function holdsResult(folder: string): Promise<boolean> {
  try {
    const result: unknown = JSON.parse(await readFile(join(folder, 'result.json'), 'utf8'))
    return (result as { schema?: unknown } | null)?.schema === 'offcut.result/1'
  } catch {
    return false
  }
}

/** A run that writes into a folder below would lose it under its feet. */
async function refuseBusy(folder: string): Promise<void> {
  for (const file of await filesBelow(folder)) {
    if (!file.endsWith('.offcut-lock') || !(await isLocked(join(folder, file)))) continue
    throw new OffcutError(
      'OUTPUT_LOCKED',
      `${printable(folder)} holds ${printable(file)}, the lock of another run that writes there: wait for it, or choose another --out`,
      1,
    )
  }
}

async function publish(
  staging: string,
  folder: string,
  { adds = false, note }: OutputOptions,
): Promise<void> {
  const made = new Set(await filesBelow(staging))
  if ((await stat(folder).catch(() => null)) === null) {
    await writeMade(staging, made)
    await replaceFolder(staging, folder, besideOf(folder, 'old'))
    return
  }
  const before = await readMade(folder)
  if (adds) for (const file of before) made.add(file)
  await writeMade(staging, made)
  await refuseBusy(folder)
  const leave = adds ? new Set<string>() : before
  const gone = (await filesBelow(folder)).filter((file) => leave.has(file) && !made.has(file)).sort()
  const kept = await carryOver(folder, staging, leave)
  await replaceFolder(staging, folder, besideOf(folder, 'old'))
  // What was put there while the rest was carried; the old folder now has the staging's place.
  kept.push(...(await carryOver(staging, folder, leave)))
  const others = kept.filter((path) => !before.has(path))
  if (others.length > 0) note(`note: kept in ${printable(folder)}, not of this run: ${someOf(others)}`)
  if (gone.length > 0)
    note(`note: gone from ${printable(folder)}, of the run that is replaced: ${someOf(gone)}`)
}

/** As many names as a line of a message holds. */
const NAMED = 6

function someOf(names: readonly string[]): string {
  const more = names.length > NAMED ? ` and ${names.length - NAMED} more` : ''
  return names.slice(0, NAMED).map(printable).join(', ') + more
}

/** A hidden name beside a folder, on the same disk so that both can be exchanged; the same for every run. */
function besideOf(folder: string, what: 'lock' | 'part' | 'old'): string {
  const name = basename(folder)
  // File systems take 255 bytes.
  const short =
    Buffer.byteLength(name) <= 200 ? name : createHash('sha256').update(name).digest('hex').slice(0, 32)
  return join(dirname(folder), `.${short}.offcut-${what}`)
}

async function refuseFootage(folder: string, real: string, footage: readonly string[]): Promise<void> {
  for (const plate of footage) {
    const held = await realpath(plate).catch(() => resolve(plate))
    if (held.startsWith(real + sep)) {
      const problem = `holds the footage's folder ${printable(held)}, which is never touched`
      throw new OffcutError(
        'OUTPUT_HOLDS_FOOTAGE',
        `${printable(folder)} ${problem}: choose another --out`,
        2,
      )
    }
    refuseWithin(folder, real, held, 'choose another --out')
  }
}

function explain(folder: string, cause: unknown): unknown {
  if (cause instanceof OffcutError) {
    // Whoever reads it asked for the folder, and the one beside it is gone by then.
    const [beside, asked] = [printable(besideOf(folder, 'part')), printable(folder)]
    const { code, message, exitCode } = cause
    return message.includes(beside)
      ? new OffcutError(code, message.replaceAll(beside, asked), exitCode, { cause })
      : cause
  }
  if (!(cause instanceof Error)) return cause
  const { code, syscall } = cause as NodeJS.ErrnoException
  if (syscall === undefined) return cause
  if (code === 'ENOSPC' || code === 'EDQUOT') {
    return writeError(
      'DISK_FULL',
      folder,
      "can't be written, the disk is full",
      'make room or choose another --out',
      cause,
    )
  }
  const said = code === 'EEXIST' ? "can't be written, a file has its name" : problemOf(code ?? '')
  const problem = said ?? `can't be written (${code})`
  return writeError('OUTPUT_UNWRITABLE', folder, problem, 'choose another --out', cause)
}
