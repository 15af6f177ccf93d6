// The demo footage as files: frames and masks compressed, each whole or not there at all, nothing of the user's lost.
import { access, readdir, rename, rm, writeFile } from 'node:fs/promises'
import { basename, dirname, join } from 'node:path'
import sharp from 'sharp'
import { option, writeError } from '../errors.js'
import { frameName, range } from './account.js'
import type { PlateTruth } from './truth.js'

/** Little compression: noise hardly shrinks, and more effort costs more time than it saves disk. */
const PNG_EFFORT = 2

export function encodePlate(code: Uint16Array, width: number, height: number): Promise<Buffer> {
  return sharp(code, { raw: { width, height, channels: 3 } })
    .toColourspace('rgb16')
    .png({ compressionLevel: PNG_EFFORT })
    .toBuffer()
}

export function encodeMask(grey: Uint8Array, width: number, height: number): Promise<Buffer> {
  return sharp(grey, { raw: { width, height, channels: 1 } })
    .toColourspace('b-w')
    .png()
    .toBuffer()
}

/** A file appears under its name only when all of it is on the disk. */
export async function writeWhole(path: string, data: Uint8Array | string): Promise<void> {
  const draft = join(dirname(path), `.${basename(path)}.${process.pid}.part`)
  try {
    await writeFile(draft, data)
    await rename(draft, path)
  } catch (cause) {
    await rm(draft, { force: true })
    const reason = cause instanceof Error ? cause.message : String(cause)
    throw writeError(
      'UNWRITABLE',
      path,
      `can't be written (${reason})`,
      'free some space or choose another folder',
      cause,
    )
  }
}

/** Nothing of the user's is written over; nor may frames of a longer earlier plate stay among the new ones. */
export async function refuseExisting(folder: string, truth: PlateTruth, overwrite: boolean): Promise<void> {
  const { pattern, first, last } = truth.plate
  const ours = new Set(range({ first, last }).map((number) => basename(frameName(pattern, number))))
  const there = await readdir(join(folder, 'plate')).catch(() => [] as string[])
  for (const name of there.sort()) {
    if (ours.has(name) && overwrite) continue
    if (name.startsWith('.') && !ours.has(name)) continue
    const path = join(folder, 'plate', name)
    if (ours.has(name))
      throw writeError(
        'FILE_EXISTS',
        path,
        'is there already',
        `choose another folder, or add ${option('overwrite')}`,
      )
    throw writeError(
      'FILE_EXISTS',
      path,
      `is no frame of the plate ${first} to ${last}`,
      'remove it or choose another folder',
    )
  }
  if (overwrite) return
  for (const name of ['truth.json', 'mask']) {
    const path = join(folder, name)
    const found = await access(path).then(
      () => true,
      () => false,
    )
    if (found)
      throw writeError(
        'FILE_EXISTS',
        path,
        'is there already',
        `choose another folder, or add ${option('overwrite')}`,
      )
  }
}
