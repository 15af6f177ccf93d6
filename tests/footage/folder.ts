// Plates made for one test: a folder below the system's temporary one, and tiny pictures in it.
import { mkdir, mkdtemp, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { dirname, join } from 'node:path'
import sharp from 'sharp'
import { onTestFinished } from 'vitest'

/** A fresh folder that goes when the test ends. */
export async function freshFolder(): Promise<string> {
  const folder = await mkdtemp(join(tmpdir(), 'offcut-footage-'))
  onTestFinished(() => rm(folder, { recursive: true, force: true }))
  return folder
}

/** An 8-bit PNG, 6 x 4 unless said otherwise, all of one grey. */
export async function greyPng(grey = 128, { width = 6, height = 4 } = {}): Promise<Buffer> {
  const pixels = Buffer.alloc(width * height * 3, grey)
  return sharp(pixels, { raw: { width, height, channels: 3 } })
    .png()
    .toBuffer()
}

/** Puts a file, in a subfolder where its name has one. */
export async function put(folder: string, name: string, bytes: Uint8Array | string): Promise<string> {
  const path = join(folder, name)
  await mkdir(dirname(path), { recursive: true })
  await writeFile(path, bytes)
  return path
}

/** A fresh folder with these files: pictures where the ending is that of a PNG, a word elsewhere. */
export async function folderOf(names: readonly string[]): Promise<string> {
  const folder = await freshFolder()
  const png = await greyPng()
  for (const name of names) await put(folder, name, name.endsWith('.png') ? png : 'not a picture')
  return folder
}
