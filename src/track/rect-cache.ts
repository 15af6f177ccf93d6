// Rectangles that were read before, in the user's cache folder: the next search on the same region need not decode the
// footage again. It may be deleted at any time, and it is never believed about a file that has changed since.
import { createHash } from 'node:crypto'
import { readdir, rm, rmdir, stat, utimes } from 'node:fs/promises'
import { join } from 'node:path'
import envPaths from 'env-paths'
import type { Plate } from '../footage/plate.js'
import { makeFolder } from '../footage/write/make-folder.js'
import { contains, type Rect } from '../raster/rect.js'
import { isStamped, readStamped, STAMPED_BYTES, stampOf, writeStamped } from './stamped-file.js'

/** Most bytes kept: a few long shots' worth. Past it the folders that were not used for longest go. */
const MAX_BYTES = 4 * 2 ** 30
/** A change in what the bytes mean makes another folder. */
const FORMAT = 'rects-4'
/** Plate and rectangle: what else lies in the cache folder is not ours. */
const FOLDER_NAME = /^([0-9a-f]{32})_(\d+)_(\d+)_(\d+)_(\d+)$/

/** A folder that was marked as used so lately need not be marked again. */
const TOUCH_MS = 60_000
const touched = new Map<string, number>()

/** Begins the name of a folder of the cache: as a plate is read, and what is kept of it. */
export function cacheName({ spec, encoding, layer = '', active }: Plate, format: string): string {
  const of = JSON.stringify([format, spec, encoding, layer, active])
  return createHash('sha256').update(of).digest('hex').slice(0, 32)
}

/** A rectangle that was kept, linear RGB as halves. */
export interface KeptRect {
  readonly rect: Rect
  readonly halves: Uint16Array
}

/** One rectangle of a plate's frames, read with one encoding; larger rectangles that hold it serve as well. */
export class RectCache {
  readonly #plateName: string
  #holding: Promise<readonly Rect[]> | undefined
  #sharing: Promise<readonly Rect[]> | undefined
  #made: Promise<unknown> | undefined
  readonly #rooms = new WeakSet<Uint16Array>()

  constructor(
    readonly plate: Plate,
    readonly rect: Rect,
    readonly root: string = cacheRoot(),
  ) {
    this.#plateName = cacheName(plate, FORMAT)
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
    for (const rect of await this.#findHolding())
      if (await isStamped(this.#file(rect, frame), 2 * size(rect), stamp)) return true
    return false
  }

  /**
   * The kept rectangle that has most rows of this one of a frame, and all its columns, as far as its stamp tells: half of the
   * rows at least; null where there is none.
   */
  async rowsOf(frame: number): Promise<Rect | null> {
    this.#sharing ??= this.#findSharing()
    const rects = await this.#sharing
    const stamp = rects.length > 0 ? await this.stamp(frame) : null
    if (stamp === null) return null
    for (const rect of rects) if (await isStamped(this.#file(rect, frame), 2 * size(rect), stamp)) return rect
    return null
  }

  /** All that was kept of a frame over a rectangle from `rowsOf`; null where it is no longer good. As `get` */
  readKept(frame: number, rect: Rect): Promise<Uint16Array | null> {
    return this.#read(frame, rect)
  }

  /** Room for this rectangle, which `putAndReuse` gives to a later one; new memory where it is large. */
  room(): Uint16Array {
    const bytes = bytesOf(this.rect)
    if (bytes > MAX_REUSED) return new Uint16Array(size(this.rect))
    const halves = new Uint16Array(take(bytes), 0, size(this.rect))
    this.#rooms.add(halves)
    return halves
  }

  /** As `put`; halves that lie in `room` are written over afterwards. */
  async putAndReuse(frame: number, stamp: Buffer | null, halves: Uint16Array): Promise<void> {
    await this.put(frame, stamp, halves)
    if (this.#rooms.delete(halves)) this.giveBack(halves)
  }

  /** @param halves from `get`; they are written over by a later one */
  giveBack(halves: Uint16Array): void {
    idle.push(halves.buffer as ArrayBuffer)
    // Those of a size that is no longer read go first.
    if (idle.length > MAX_IDLE) idle.shift()
  }

  async #read(frame: number, rect: Rect): Promise<Uint16Array | null> {
    let taken: ArrayBuffer | undefined
    const room = () => {
      taken = take(bytesOf(rect))
      return Buffer.from(taken)
    }
    const isGood = await readStamped(this.#file(rect, frame), room, this.plate.pathOf(frame))
    if (taken === undefined) return null
    if (isGood) return new Uint16Array(taken, 0, size(rect))
    idle.push(taken)
    return null
  }

  /** Kept rectangles of this plate that hold the wanted one, the smallest first. */
  async #findHolding(): Promise<readonly Rect[]> {
    const rects = await this.#findKept()
    return rects.filter((r) => contains(r, this.rect)).sort((a, b) => a.w * a.h - b.w * b.h)
  }

  /** Those that have all its columns and half of its rows at least, most rows first. */
  async #findSharing(): Promise<readonly Rect[]> {
    const { x, y, w, h } = this.rect
    const rowsOf = (r: Rect) => Math.min(r.y + r.h, y + h) - Math.max(r.y, y)
    const rects = await this.#findKept()
    return rects
      .filter((r) => r.x <= x && r.x + r.w >= x + w && 2 * rowsOf(r) >= h)
      .sort((a, b) => rowsOf(b) - rowsOf(a) || a.w * a.h - b.w * b.h)
  }

  /** Kept rectangles of this plate. */
  async #findKept(): Promise<Rect[]> {
    const names = await readdir(this.root).catch(() => [])
    return names.flatMap((name) => {
      const match = FOLDER_NAME.exec(name)
      if (match?.[1] !== this.#plateName) return []
      const [x, y, w, h] = match.slice(2).map(Number)
      return [{ x, y, w, h }]
    })
  }

  /** The file's state now; take it before the frame is read, so that a change meanwhile is not missed. */
  stamp(frame: number): Promise<Buffer | null> {
    return stampOf(this.plate.pathOf(frame)).catch(() => null)
  }

  /** Keeps a frame, whole or not at all. A cache that can't be written is no error: the search goes on without it. */
  async put(frame: number, stamp: Buffer | null, halves: Uint16Array): Promise<void> {
    if (stamp === null) return
    this.#made ??= makeFolder(this.#folder(this.rect)).catch(() => {})
    await this.#made
    const samples = new Uint8Array(halves.buffer, halves.byteOffset, halves.byteLength)
    await writeStamped(this.#file(this.rect, frame), samples, stamp)
  }

  /** Marks these rectangles as just used, for `pruneRectCache`. */
  async touch(): Promise<void> {
    for (const rect of await this.#findHolding()) await touchFolder(this.#folder(rect))
  }

  #file(rect: Rect, frame: number): string {
    return join(this.#folder(rect), `${frame}.half`)
  }

  #folder({ x, y, w, h }: Rect): string {
    return join(this.root, [this.#plateName, x, y, w, h].join('_'))
  }
}

/** Marks a folder of the cache as just used, for `pruneRectCache`. */
export async function touchFolder(folder: string): Promise<void> {
  const now = Date.now()
  if (now - (touched.get(folder) ?? 0) < TOUCH_MS) return
  touched.set(folder, now)
  await utimes(folder, now / 1000, now / 1000).catch(() => {})
}

/** Buffers that were given back: reading thousands of frames into new ones costs more than reading them. */
const idle: ArrayBuffer[] = []
/** As many as frames are read at once, twice: what was kept with its room, and what is cut from it. */
const MAX_IDLE = 8
/** A rectangle that takes more lies in memory of its own, which goes with it, bytes. */
const MAX_REUSED = 8 * 2 ** 20

function take(length: number): ArrayBuffer {
  const at = idle.findIndex((buffer) => buffer.byteLength === length)
  return at >= 0 ? idle.splice(at, 1)[0] : new ArrayBuffer(length)
}

/** Samples of a rectangle. */
function size({ w, h }: Pick<Rect, 'w' | 'h'>): number {
  return w * h * 3
}

function sameSize(a: Rect, b: Rect): boolean {
  return a.w === b.w && a.h === b.h
}

/** Of a frame that is kept over a rectangle; what is kept smaller takes less. */
function bytesOf(rect: Pick<Rect, 'w' | 'h'>): number {
  return 2 * size(rect) + STAMPED_BYTES
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

/**
 * Deletes the rectangles that were not used for longest until what is left is small enough. Of a shot that is too large by
 * itself some frames stay.
 */
export async function pruneRectCache(
  root: string = cacheRoot(),
  mostBytes: number = MAX_BYTES,
): Promise<void> {
  const listed: { path: string; files: string[]; most: number }[] = []
  for (const name of await readdir(root).catch(() => [])) {
    const match = FOLDER_NAME.exec(name)
    if (match === null) continue
    const [w, h] = match.slice(4).map(Number)
    const path = join(root, name)
    const files = await readdir(path).catch(() => [])
    listed.push({ path, files, most: files.length * bytesOf({ w, h }) })
  }
  // As a rule there is room for all of it, and thousands of files need not be asked how large each of them is.
  if (listed.reduce((sum, { most }) => sum + most, 0) <= mostBytes) return
  const folders: { path: string; used: number; files: { path: string; bytes: number }[] }[] = []
  for (const { path, files: names } of listed) {
    try {
      const { mtimeMs } = await stat(path)
      const files = await Promise.all(
        names.map(async (file) => {
          const { size } = await stat(join(path, file))
          return { path: join(path, file), bytes: size }
        }),
      )
      folders.push({ path, used: mtimeMs, files })
    } catch {
      // Another run is deleting it.
    }
  }
  folders.sort((a, b) => b.used - a.used)
  let total = 0
  for (const { path, used, files } of folders) {
    const before = total
    for (const file of files) {
      total += file.bytes
      if (total > mostBytes) await rm(file.path, { force: true }).catch(() => {})
    }
    if (total <= mostBytes) continue
    // One that is empty now goes; of the others the time of use is what it was.
    if (before >= mostBytes) await rm(path, { recursive: true, force: true }).catch(() => {})
    else await rmdir(path).catch(() => utimes(path, used / 1000, used / 1000).catch(() => {}))
  }
}

/** Where all that is kept of footage lies: a folder for each plate and kind of thing, its size at the end of its name. */
export function cacheRoot(): string {
  return join(envPaths('offcut', { suffix: '' }).cache, 'rectangles')
}
