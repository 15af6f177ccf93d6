// Positioned reads from a file whose header is not to be trusted: nothing is allocated before it is known to be there.
import { type FileHandle, open } from 'node:fs/promises'

/** Largest frame that is opened, pixels: 16 times 4096 x 2160, so that a few header bytes cannot ask for gigabytes. */
export const FRAME_PIXEL_LIMIT = 16 * 4096 * 2160

/** Largest width or height that is opened, pixels. */
export const FRAME_SIDE_LIMIT = 1 << 17

/** What a file is broken by: `code` for programs, the message in a few words for people, without the file's name. */
export class BadFile extends Error {
  override readonly name = 'BadFile'
  constructor(
    readonly code: 'EXR_BAD' | 'DPX_BAD',
    message: string,
    options?: ErrorOptions,
  ) {
    super(message, options)
  }
}

export class BoundedFile {
  private constructor(
    private readonly handle: FileHandle,
    /** Bytes. */
    readonly size: number,
    private readonly code: BadFile['code'],
  ) {}

  /** Opens a file, hands it to `work` and closes it whatever happens. */
  static async use<T>(
    path: string,
    code: BadFile['code'],
    work: (file: BoundedFile) => Promise<T>,
  ): Promise<T> {
    const handle = await open(path, 'r')
    try {
      const status = await handle.stat()
      // a pipe or a device has no size to check against, and reading it may never end
      if (!status.isFile()) throw new BadFile(code, 'is not a file')
      return await work(new BoundedFile(handle, status.size, code))
    } finally {
      await handle.close()
    }
  }

  /**
   * Bytes [at, at + length).
   *
   * @param what what they are, for the message: "its header"
   * @throws BadFile where they are not all in the file
   */
  async read(at: number, length: number, what: string): Promise<Buffer> {
    this.#check(at, length, what)
    return this.readInto(Buffer.allocUnsafeSlow(length), at, what)
  }

  /** As `read`, all of a buffer, which is what it returns. */
  async readInto(buffer: Buffer, at: number, what: string): Promise<Buffer> {
    const { length } = buffer
    this.#check(at, length, what)
    for (let done = 0; done < length; ) {
      const { bytesRead } = await this.handle.read(buffer, done, length - done, at + done)
      if (bytesRead === 0) throw new BadFile(this.code, `became shorter while ${what} was read`)
      done += bytesRead
    }
    return buffer
  }

  #check(at: number, length: number, what: string): void {
    if (!(at >= 0 && length >= 0 && at + length <= this.size)) {
      throw new BadFile(
        this.code,
        `ends inside ${what}: ${at + length} bytes are needed, there are ${this.size}`,
      )
    }
  }

  /** Up to `length` bytes from the start. */
  head(length: number): Promise<Buffer> {
    return this.read(0, Math.min(length, this.size), 'its header')
  }
}
