// Pictures of the viewer, decoded when they are wanted, as a page must open at once.
import type { Samples, Scene } from './compose.js'
import type { ViewerData, ViewerFiles } from './viewer-data.js'

/** Decoded pictures kept at most, bytes; the longest unused go first. */
const KEEP_BYTES = 400_000_000

/** Decodes the frames of candidates and remembers what it decoded. */
export class FrameStore {
  private readonly decoded = new Map<string, Decoded>()
  private readonly supports = new Map<number, Support>()

  constructor(
    private readonly data: ViewerData,
    private readonly files: ViewerFiles,
  ) {}

  /** The scene where all of it is decoded already, else null. */
  ready(way: number, frame: number): Scene | null {
    const [at] = this.data.ways[way].frames[frame]
    const target = this.decoded.get(`target/${at}`)?.value
    const lent = this.decoded.get(`lent/${way}/${frame}`)?.value
    const support = this.supports.get(this.data.targets[at].mask)?.value
    return target && lent && support ? { target, lent, support, ...this.place(at) } : null
  }

  /** @param way,frame index of the candidate, and of the frame among those it carries */
  async scene(way: number, frame: number): Promise<Scene> {
    const [at] = this.data.ways[way].frames[frame]
    const [target, lent, support] = await Promise.all([
      this.picture(`target/${at}`, () => this.files.target(at)),
      this.picture(`lent/${way}/${frame}`, () => this.files.lent(way, frame)),
      this.support(this.data.targets[at].mask),
    ])
    return { target, lent, support, ...this.place(at) }
  }

  /** A whole frame. @param index into `whole.targets` */
  whole(index: number): Promise<Samples> {
    return this.picture(`whole/${index}`, () => this.files.whole(index))
  }

  private place(at: number): Pick<Scene, 'left' | 'top'> {
    const { rect, box } = this.data.targets[at]
    return { left: box[0] - rect[0], top: box[1] - rect[1] }
  }

  private support(mask: number): Promise<Uint8ClampedArray> {
    const known = this.supports.get(mask)
    if (known) return known.samples
    const entry: Support = { samples: this.decodedSupport(mask) }
    this.supports.set(mask, entry)
    entry.samples.then((value) => {
      entry.value = value
    })
    return entry.samples
  }

  private async decodedSupport(mask: number): Promise<Uint8ClampedArray> {
    const { data } = await decode(await this.files.support(mask))
    return data.filter((_, i) => i % 4 === 0)
  }

  private picture(key: string, file: () => Blob | Promise<Blob>): Promise<Samples> {
    const known = this.decoded.get(key)
    if (known) {
      // Back to the end of the queue: used just now.
      this.decoded.delete(key)
      this.decoded.set(key, known)
      return known.samples
    }
    const entry: Decoded = { samples: Promise.resolve(file()).then(decode), bytes: 0 }
    this.decoded.set(key, entry)
    entry.samples.then(
      (value) => {
        entry.value = value
        entry.bytes = value.data.length
        this.forgetOldest()
      },
      // What could not be had may be there the next time.
      () => this.decoded.delete(key),
    )
    return entry.samples
  }

  private forgetOldest(): void {
    let bytes = 0
    for (const entry of this.decoded.values()) bytes += entry.bytes
    for (const [key, entry] of this.decoded) {
      if (bytes <= KEEP_BYTES) return
      bytes -= entry.bytes
      this.decoded.delete(key)
    }
  }
}

interface Decoded {
  readonly samples: Promise<Samples>
  /** absent until decoded, as 0 bytes are */
  value?: Samples
  bytes: number
}

interface Support {
  readonly samples: Promise<Uint8ClampedArray>
  /** absent until decoded */
  value?: Uint8ClampedArray
}

async function decode(file: Blob): Promise<Samples> {
  const bitmap = await createImageBitmap(file)
  const canvas = document.createElement('canvas')
  canvas.width = bitmap.width
  canvas.height = bitmap.height
  const context = canvas.getContext('2d', { willReadFrequently: true })!
  context.drawImage(bitmap, 0, 0)
  bitmap.close()
  const { data } = context.getImageData(0, 0, canvas.width, canvas.height)
  return { w: canvas.width, h: canvas.height, data }
}
