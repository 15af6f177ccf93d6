// Frames of a movie kept on disk as ffmpeg gave them, so that each can be read again without decoding all before it.
// The file loses its name as soon as it is open: however the program ends, nothing stays behind.
import { randomBytes } from 'node:crypto'
import { type FileHandle, open, unlink } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { contains, type Rect } from '../../raster/rect.js'

export class KeptFrames {
  readonly #places = new Map<number, number>()

  private constructor(
    readonly rect: Rect,
    readonly bytesPerFrame: number,
    readonly file: FileHandle,
  ) {}

  /**
   * @param rect what can be read from what will be kept, in the movie's pixels
   * @returns null where the temporary folder takes no file
   */
  static async create(rect: Rect, bytesPerFrame: number): Promise<KeptFrames | null> {
    const path = join(tmpdir(), `offcut-movie-${randomBytes(8).toString('hex')}`)
    try {
      const file = await open(path, 'wx+', 0o600)
      await unlink(path)
      return new KeptFrames(rect, bytesPerFrame, file)
    } catch {
      return null
    }
  }

  /** @returns false where there is no room for it */
  async add(frame: number, pixels: Uint8Array): Promise<boolean> {
    const place = this.#places.size
    try {
      const at = place * this.bytesPerFrame
      const { bytesWritten } = await this.file.write(pixels, 0, this.bytesPerFrame, at)
      if (bytesWritten < this.bytesPerFrame) return false
    } catch {
      return false
    }
    this.#places.set(frame, place)
    return true
  }

  holds(frame: number, rect: Rect): boolean {
    return this.#places.has(frame) && contains(this.rect, rect)
  }

  /** The bytes of a frame that it holds, in memory of their own. */
  async get(frame: number): Promise<Buffer> {
    const pixels = Buffer.from(new ArrayBuffer(this.bytesPerFrame))
    const at = this.#places.get(frame)! * this.bytesPerFrame
    const { bytesRead } = await this.file.read(pixels, 0, pixels.length, at)
    if (bytesRead < pixels.length) throw new Error(`what was kept of frame ${frame} is cut short`)
    return pixels
  }

  close(): Promise<void> {
    return this.file.close()
  }
}
