// The folder a command writes to: never a plate's own, never over files that are there, all of it or nothing.
import { mkdir, open, readdir, readFile, realpath, rename, rm } from 'node:fs/promises'
import { hostname } from 'node:os'
import { basename, dirname, join, resolve, sep } from 'node:path'
import { OffcutError, printable, writeError } from '../errors.js'

const LOCK = '.offcut-lock'
const STAGING = '.offcut-part'

export interface OutputOptions {
  readonly overwrite: boolean
  /** Folders that hold footage or masks: nothing may be written there. */
  readonly footage: readonly string[]
}

/**
 * Runs `write` on an empty staging folder and, when it has ended well, moves what it wrote into `out`. A run that is
 * stopped, by whatever means, leaves `out` as it was; the next one clears what it left.
 *
 * @throws OUTPUT_IN_FOOTAGE, OUTPUT_EXISTS, OUTPUT_LOCKED, OUTPUT_UNWRITABLE, DISK_FULL
 */
export async function writeFolder(
  out: string,
  { overwrite, footage }: OutputOptions,
  write: (staging: string) => Promise<void>,
): Promise<void> {
  const folder = resolve(out)
  await refuseFootage(folder, footage)
  try {
    const made = await mkdir(folder, { recursive: true })
    const release = await lock(folder, overwrite)
    const staging = join(folder, STAGING)
    let done = false
    try {
      await rm(staging, { recursive: true, force: true })
      await mkdir(staging)
      await write(staging)
      for (const name of (await readdir(staging)).sort())
        await rename(join(staging, name), join(folder, name))
      done = true
    } finally {
      await rm(staging, { recursive: true, force: true }).catch(() => {})
      await release()
      // A folder that was made for nothing goes again.
      if (!done && made !== undefined) await rm(made, { recursive: true, force: true }).catch(() => {})
    }
  } catch (cause) {
    throw explain(folder, cause)
  }
}

async function refuseFootage(folder: string, footage: readonly string[]): Promise<void> {
  const real = await nearestReal(folder)
  for (const plate of footage) {
    const held = await realpath(plate).catch(() => resolve(plate))
    if (real !== held && !real.startsWith(held + sep)) continue
    throw new OffcutError(
      'OUTPUT_IN_FOOTAGE',
      `${printable(folder)} lies in the footage's own folder ${printable(held)}, where nothing is ever written: choose another --out`,
      2,
    )
  }
}

/** The real path a folder has or will have, whatever of it exists. */
async function nearestReal(folder: string): Promise<string> {
  const found = await realpath(folder).catch(() => null)
  if (found !== null || dirname(folder) === folder) return found ?? folder
  return join(await nearestReal(dirname(folder)), basename(folder))
}

/** One run at a time; a lock whose process is gone is stale and taken over, with what it left behind. */
async function lock(folder: string, overwrite: boolean): Promise<() => Promise<void>> {
  const path = join(folder, LOCK)
  const holder = await readHolder(path)
  if (holder !== null && isAlive(holder)) {
    throw new OffcutError(
      'OUTPUT_LOCKED',
      `${printable(folder)} is being written by process ${holder.pid} on ${printable(holder.host)}: wait for it, choose another --out, or remove ${LOCK} there if that run is dead`,
      1,
    )
  }
  const stale = holder !== null
  const held = (await readdir(folder)).filter((name) => name !== LOCK && name !== STAGING)
  // What a killed run left in a folder that it found empty is its own; anything else is somebody's.
  if (held.length > 0 && !overwrite && !(stale && holder.wasEmpty)) {
    throw writeError(
      'OUTPUT_EXISTS',
      folder,
      `holds files already (${printable(held[0])})`,
      'choose another --out, or say --overwrite',
    )
  }
  if (stale) await rm(path, { force: true })
  const file = await open(path, 'wx').catch((cause: NodeJS.ErrnoException) => {
    if (cause.code !== 'EEXIST') throw cause
    throw new OffcutError(
      'OUTPUT_LOCKED',
      `${printable(folder)} has just been taken by another run: choose another --out`,
      1,
    )
  })
  await file.writeFile(
    JSON.stringify({
      pid: process.pid,
      host: hostname(),
      wasEmpty: held.length === 0 || holder?.wasEmpty === true,
    } satisfies Holder),
  )
  await file.close()
  return () => rm(path, { force: true }).catch(() => {})
}

interface Holder {
  readonly pid: number
  readonly host: string
  /** The folder held nothing when that run began. */
  readonly wasEmpty: boolean
}

async function readHolder(path: string): Promise<Holder | null> {
  const text = await readFile(path, 'utf8').catch(() => null)
  if (text === null) return null
  try {
    const { pid, host, wasEmpty } = JSON.parse(text) as Partial<Holder>
    if (typeof pid === 'number' && typeof host === 'string') return { pid, host, wasEmpty: wasEmpty === true }
  } catch {
    // Cut off while it was written: its writer is gone.
  }
  return { pid: 0, host: hostname(), wasEmpty: false }
}

function isAlive({ pid, host }: Holder): boolean {
  // Another machine's processes can't be seen: its lock is believed.
  if (host !== hostname()) return true
  if (pid <= 0) return false
  try {
    process.kill(pid, 0)
    return true
  } catch (cause) {
    return (cause as NodeJS.ErrnoException).code === 'EPERM'
  }
}

function explain(folder: string, cause: unknown): unknown {
  if (cause instanceof OffcutError || !(cause instanceof Error)) return cause
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
  return writeError('OUTPUT_UNWRITABLE', folder, `can't be written (${code})`, 'choose another --out', cause)
}
