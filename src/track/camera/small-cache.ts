// Small pictures of whole frames that were made before, in the user's cache folder beside the rectangles: of a frame that takes
// half a second to decode a twentieth of a second's reading is left.
import { join } from 'node:path'
import type { Plate } from '../../footage/plate.js'
import { makeFolder } from '../../footage/write/make-folder.js'
import { type Plane, plane } from '../../raster/plane.js'
import type { Rect } from '../../raster/rect.js'
import { cacheName, cacheRoot, touchFolder } from '../rect-cache.js'
import { readStamped, STAMPED_BYTES, stampOf, writeStamped } from '../stamped-file.js'

/** Goes up when a small picture is made otherwise: then those that were made before are no longer read. */
const FORMAT = 'small-2'

/** log2 luminance, its corner at 0, 0, and where it is known: 1. */
export interface SmallPicture {
  readonly log: Plane
  readonly known: Uint8Array
}

/** Small pictures of one plate at one size. */
export class SmallCache {
  readonly width: number
  readonly height: number
  readonly #folder: string
  #made: Promise<unknown> | undefined

  /**
   * @param factor plate pixels of a side per pixel of theirs
   * @param rect   what they show, the plate's pixels
   */
  constructor(
    readonly plate: Plate,
    factor: number,
    { x, y, w, h }: Rect,
    root: string = cacheRoot(),
  ) {
    this.width = Math.floor(w / factor)
    this.height = Math.floor(h / factor)
    const name = cacheName(plate, `${FORMAT} ${factor}`)
    this.#folder = join(root, [name, x, y, w, h].join('_'))
  }

  /** Null where it was not kept, was kept of an older file, or can't be read. */
  async get(frame: number): Promise<SmallPicture | null> {
    const pixels = this.width * this.height
    const bytes = Buffer.from(new ArrayBuffer(5 * pixels + STAMPED_BYTES))
    if (!(await readStamped(this.#file(frame), () => bytes, this.plate.pathOf(frame)))) return null
    const log = { ...plane(0, 0, 0, 0), width: this.width, height: this.height }
    const data = new Float32Array(bytes.buffer, 0, pixels)
    return { log: { ...log, data }, known: new Uint8Array(bytes.buffer, 4 * pixels, pixels) }
  }

  /** The file's state now; take it before the frame is read, so that a change meanwhile is not missed. */
  stamp(frame: number): Promise<Buffer | null> {
    return stampOf(this.plate.pathOf(frame)).catch(() => null)
  }

  async put(frame: number, stamp: Buffer | null, { log, known }: SmallPicture): Promise<void> {
    if (stamp === null) return
    this.#made ??= makeFolder(this.#folder).catch(() => {})
    await this.#made
    const samples = new Uint8Array(5 * known.length)
    samples.set(new Uint8Array(log.data.buffer, log.data.byteOffset, log.data.byteLength))
    samples.set(known, 4 * known.length)
    await writeStamped(this.#file(frame), samples, stamp)
  }

  /** Marks them as just used. */
  touch(): Promise<void> {
    return touchFolder(this.#folder)
  }

  #file(frame: number): string {
    return join(this.#folder, `${frame}.small`)
  }
}
