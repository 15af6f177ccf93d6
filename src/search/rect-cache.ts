// Rectangles that were read before, in the user's cache folder: the next search on the same region need not decode the
// footage again. It may be deleted at any time, and it is never believed about a file that has changed since.
import { createHash, randomBytes } from 'node:crypto'
import { mkdir, readdir, readFile, rename, rm, stat, utimes, writeFile } from 'node:fs/promises'
import { join } from 'node:path'
import envPaths from 'env-paths'
import type { Plate } from '../footage/plate.js'
import type { Rect } from '../raster/rect.js'

/** Most bytes kept: a few long shots' worth. Past it the folders that were not used for longest go. */
const MOST_BYTES = 4 * 2 ** 30
/** A change in what the bytes mean makes another folder. */
const FORMAT = 'rects-1'
/** The frame file's state, as hexadecimal SHA-256, before the halves. */
const STAMP_BYTES = 32

/** The rectangles of one plate, of one size and place, read with one encoding. */
export class RectCache {
  readonly #folder: string
  readonly #length: number

  constructor(
    readonly plate: Plate,
    rect: Rect,
    root: string = cacheRoot(),
  ) {
    const { spec, encoding, layer = '' } = plate
    const of = JSON.stringify([FORMAT, spec, encoding, layer, rect.x, rect.y, rect.w, rect.h])
    this.#folder = join(root, createHash('sha256').update(of).digest('hex').slice(0, 32))
    this.#length = rect.w * rect.h * 3
  }

  /** The halves of a frame, or null where it was not kept, was kept of an older file, or can't be read. */
  async get(frame: number): Promise<Uint16Array | null> {
    try {
      const [bytes, stamp] = await Promise.all([
        readFile(this.#path(frame)),
        stampOf(this.plate.pathOf(frame)),
      ])
      if (bytes.length !== STAMP_BYTES + 2 * this.#length || !bytes.subarray(0, STAMP_BYTES).equals(stamp))
        return null
      // Copied, because a view of it would keep the stamp and need even alignment.
      const halves = new Uint16Array(this.#length)
      new Uint8Array(halves.buffer).set(bytes.subarray(STAMP_BYTES))
      return halves
    } catch {
      return null
    }
  }

  /** The file's state now; take it before the frame is read, so that a change meanwhile is not missed. */
  stamp(frame: number): Promise<Buffer | null> {
    return stampOf(this.plate.pathOf(frame)).catch(() => null)
  }

  /** Keeps a frame, whole or not at all. A cache that can't be written is no error: the search goes on without it. */
  async put(frame: number, stamp: Buffer | null, halves: Uint16Array): Promise<void> {
    if (stamp === null) return
    const path = this.#path(frame)
    const part = `${path}.${randomBytes(4).toString('hex')}.part`
    try {
      await mkdir(this.#folder, { recursive: true })
      await writeFile(
        part,
        Buffer.concat([stamp, new Uint8Array(halves.buffer, halves.byteOffset, halves.byteLength)]),
      )
      await rename(part, path)
    } catch {
      await rm(part, { force: true }).catch(() => {})
    }
  }

  /** Marks these rectangles as just used, for `prune`. */
  async touch(): Promise<void> {
    const now = new Date()
    await utimes(this.#folder, now, now).catch(() => {})
  }

  #path(frame: number): string {
    return join(this.#folder, `${frame}.half`)
  }
}

/** Deletes the rectangles that were not used for longest until what is left is small enough. */
export async function pruneRectCache(
  root: string = cacheRoot(),
  mostBytes: number = MOST_BYTES,
): Promise<void> {
  const names = await readdir(root).catch(() => [])
  const folders: { path: string; used: number; bytes: number }[] = []
  for (const name of names) {
    const path = join(root, name)
    try {
      const { mtimeMs } = await stat(path)
      let bytes = 0
      for (const file of await readdir(path)) bytes += (await stat(join(path, file))).size
      folders.push({ path, used: mtimeMs, bytes })
    } catch {
      // Another run is deleting it.
    }
  }
  folders.sort((a, b) => b.used - a.used)
  let total = 0
  for (const { path, bytes } of folders) {
    total += bytes
    if (total > mostBytes) await rm(path, { recursive: true, force: true }).catch(() => {})
  }
}

function cacheRoot(): string {
  return join(envPaths('offcut', { suffix: '' }).cache, 'rectangles')
}

/** Everything the file system says of a file that changes when its bytes do. */
async function stampOf(path: string): Promise<Buffer> {
  const { size, mtimeNs, ctimeNs, ino, dev } = await stat(path, { bigint: true })
  return createHash('sha256').update(`${path}\0${size} ${mtimeNs} ${ctimeNs} ${ino} ${dev}`).digest()
}
