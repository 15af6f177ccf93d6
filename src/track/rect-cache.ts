// Rectangles that were read before, in the user's cache folder: the next search on the same region need not decode the
// footage again. It may be deleted at any time, and it is never believed about a file that has changed since.
import { createHash, randomBytes } from 'node:crypto'
import { open, readdir, rename, rm, stat, utimes } from 'node:fs/promises'
import { join } from 'node:path'
import envPaths from 'env-paths'
import xxhash from 'xxhash-wasm'
import type { Plate } from '../footage/plate.js'
import { makeFolder } from '../footage/write/make-folder.js'
import { contains, type Rect } from '../raster/rect.js'

/** Most bytes kept: a few long shots' worth. Past it the folders that were not used for longest go. */
const MAX_BYTES = 4 * 2 ** 30
/** A change in what the bytes mean makes another folder. */
const FORMAT = 'rects-4'
/** The frame file's state, as SHA-256, after the halves, which so stay aligned. */
const STAMP_BYTES = 32
/** XXH64 of all before it, last in the file: a disk that flips a bit says nothing. A sixth of what SHA-256 costs. */
const CHECKSUM_BYTES = 8
const hasher = xxhash()

/** Plate and rectangle: what else lies in the cache folder is not ours. */
const FOLDER_NAME = /^([0-9a-f]{32})_(\d+)_(\d+)_(\d+)_(\d+)$/

/** A folder that was marked as used so lately need not be marked again. */
const TOUCH_MS = 60_000
const touched = new Map<string, number>()

/** A rectangle that was kept, linear RGB as halves. */
export interface KeptRect {
  readonly rect: Rect
  readonly halves: Uint16Array
}

/** One rectangle of a plate's frames, read with one encoding; larger rectangles that hold it serve as well. */
export class RectCache {
  readonly #plateName: string
  #holding: Promise<readonly Rect[]> | undefined
  #made: Promise<unknown> | undefined

  constructor(
    readonly plate: Plate,
    readonly rect: Rect,
    readonly root: string = cacheRoot(),
  ) {
    const { spec, encoding, layer = '', active } = plate
    const of = JSON.stringify([FORMAT, spec, encoding, layer, active])
    this.#plateName = createHash('sha256').update(of).digest('hex').slice(0, 32)
  }

  /**
   * The halves of a frame, or null where it was not kept, was kept of an older file, or can't be read. When they are no
   * longer needed they may be given back.
   */
  async get(frame: number): Promise<Uint16Array | null> {
    const found = await this.around(frame)
    if (found === null || sameSize(found.rect, this.rect)) return found?.halves ?? null
    const cut = new Uint16Array(take(bytesOf(this.rect)), 0, size(this.rect))
    cutHalves(found.halves, found.rect, this.rect, cut)
    this.giveBack(found.halves)
    return cut
  }

  /** As `get`, but all of the smallest rectangle that was kept and holds this one. */
  async around(frame: number): Promise<KeptRect | null> {
    this.#holding ??= this.#findHolding()
    for (const rect of await this.#holding) {
      const halves = await this.#read(frame, rect)
      if (halves !== null) return { rect, halves }
    }
    return null
  }

  /** Whether a frame was kept of the file as it is now: all but its checksum is looked at. */
  async has(frame: number): Promise<boolean> {
    const stamp = await this.stamp(frame)
    if (stamp === null) return false
    for (const rect of await this.#findHolding()) {
      const said = Buffer.alloc(STAMP_BYTES)
      const path = join(this.#folder(rect), `${frame}.half`)
      if ((await readWhole(path, said, 2 * size(rect)).catch(() => false)) && said.equals(stamp)) return true
    }
    return false
  }

  /** @param halves from `get`; they are written over by a later one */
  giveBack(halves: Uint16Array): void {
    idle.push(halves.buffer as ArrayBuffer)
    // Those of a size that is no longer read go first.
    if (idle.length > MAX_IDLE) idle.shift()
  }

  async #read(frame: number, rect: Rect): Promise<Uint16Array | null> {
    const bytes = Buffer.from(take(bytesOf(rect)))
    try {
      const read = readWhole(join(this.#folder(rect), `${frame}.half`), bytes)
      const [whole, stamp] = await Promise.all([read, stampOf(this.plate.pathOf(frame))])
      const said = bytes.subarray(bytes.length - CHECKSUM_BYTES)
      const checked = bytes.subarray(0, bytes.length - CHECKSUM_BYTES)
      if (!whole || !checked.subarray(checked.length - STAMP_BYTES).equals(stamp)) return null
      if (said.readBigUInt64LE() !== (await hasher).h64Raw(checked)) return null
      return new Uint16Array(bytes.buffer, 0, size(rect))
    } catch {
      return null
    }
  }

  /** Kept rectangles of this plate that hold the wanted one, the smallest first. */
  async #findHolding(): Promise<readonly Rect[]> {
    const names = await readdir(this.root).catch(() => [])
    const rects = names.flatMap((name) => {
      const match = FOLDER_NAME.exec(name)
      if (match?.[1] !== this.#plateName) return []
      const [x, y, w, h] = match.slice(2).map(Number)
      return [{ x, y, w, h }]
    })
    return rects.filter((r) => contains(r, this.rect)).sort((a, b) => a.w * a.h - b.w * b.h)
  }

  /** The file's state now; take it before the frame is read, so that a change meanwhile is not missed. */
  stamp(frame: number): Promise<Buffer | null> {
    return stampOf(this.plate.pathOf(frame)).catch(() => null)
  }

  /** Keeps a frame, whole or not at all. A cache that can't be written is no error: the search goes on without it. */
  async put(frame: number, stamp: Buffer | null, halves: Uint16Array): Promise<void> {
    if (stamp === null) return
    const folder = this.#folder(this.rect)
    const path = join(folder, `${frame}.half`)
    const part = `${path}.${randomBytes(4).toString('hex')}.part`
    try {
      this.#made ??= makeFolder(folder)
      await this.#made
      const samples = new Uint8Array(halves.buffer, halves.byteOffset, halves.byteLength)
      const checksum = Buffer.alloc(CHECKSUM_BYTES)
      checksum.writeBigUInt64LE((await hasher).create64().update(samples).update(stamp).digest())
      await writeParts(part, [samples, stamp, checksum])
      await rename(part, path)
    } catch {
      await rm(part, { force: true }).catch(() => {})
    }
  }

  /** Marks these rectangles as just used, for `prune`. */
  async touch(): Promise<void> {
    const now = Date.now()
    for (const rect of await this.#findHolding()) {
      const folder = this.#folder(rect)
      if (now - (touched.get(folder) ?? 0) < TOUCH_MS) continue
      touched.set(folder, now)
      await utimes(folder, now / 1000, now / 1000).catch(() => {})
    }
  }

  #folder({ x, y, w, h }: Rect): string {
    return join(this.root, [this.#plateName, x, y, w, h].join('_'))
  }
}

/** Buffers that were given back: reading thousands of frames into new ones costs more than reading them. */
const idle: ArrayBuffer[] = []
/** As many as frames are read at once. */
const MAX_IDLE = 4

function take(length: number): ArrayBuffer {
  const at = idle.findIndex((buffer) => buffer.byteLength === length)
  return at >= 0 ? idle.splice(at, 1)[0] : new ArrayBuffer(length)
}

/** Samples of a rectangle. */
function size({ w, h }: Rect): number {
  return w * h * 3
}

function sameSize(a: Rect, b: Rect): boolean {
  return a.w === b.w && a.h === b.h
}

function bytesOf(rect: Rect): number {
  return 2 * size(rect) + STAMP_BYTES + CHECKSUM_BYTES
}

/** Fills a buffer from a file; false where the file is shorter. */
async function readWhole(path: string, bytes: Uint8Array, from = 0): Promise<boolean> {
  const handle = await open(path)
  try {
    return (await handle.read(bytes, 0, bytes.length, from)).bytesRead === bytes.length
  } finally {
    await handle.close()
  }
}

async function writeParts(path: string, parts: readonly Uint8Array[]): Promise<void> {
  const handle = await open(path, 'wx')
  try {
    const { bytesWritten } = await handle.writev(parts)
    if (bytesWritten < parts.reduce((sum, part) => sum + part.length, 0)) throw new Error('the disk is full')
  } finally {
    await handle.close()
  }
}

/** A rectangle cut from a larger one, linear RGB as halves. */
export function cutHalves(
  data: Uint16Array,
  from: Rect,
  rect: Rect,
  out: Uint16Array = new Uint16Array(size(rect)),
): Uint16Array {
  for (let y = 0; y < rect.h; y++) {
    const at = ((rect.y - from.y + y) * from.w + rect.x - from.x) * 3
    out.set(data.subarray(at, at + rect.w * 3), y * rect.w * 3)
  }
  return out
}

/** Deletes the rectangles that were not used for longest until what is left is small enough. */
export async function pruneRectCache(
  root: string = cacheRoot(),
  mostBytes: number = MAX_BYTES,
): Promise<void> {
  const names = (await readdir(root).catch(() => [])).filter((name) => FOLDER_NAME.test(name))
  const folders: { path: string; used: number; bytes: number }[] = []
  for (const name of names) {
    const path = join(root, name)
    try {
      const { mtimeMs } = await stat(path)
      const files = await Promise.all((await readdir(path)).map((file) => stat(join(path, file))))
      const bytes = files.reduce((sum, { size }) => sum + size, 0)
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
