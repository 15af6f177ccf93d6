// The blocks of data in the page. Pictures are decoded when they are wanted, as the page must open at once.
import { DATA_ID, framesId, type PageData, TARGETS_ID } from '../data/page-data.js'
import type { Samples, Scene } from './compose.js'

export function readData(): PageData {
  return JSON.parse(document.getElementById(DATA_ID)!.textContent!)
}

/** Decoded pictures kept at most, bytes; the longest unused go first. */
const KEEP_BYTES = 400_000_000

/** Decodes the frames of candidates and remembers what it decoded. */
export class FrameStore {
  private readonly files = new Map<string, string[]>()
  private readonly decoded = new Map<string, Decoded>()
  private readonly supports = new Map<number, Support>()

  constructor(private readonly data: PageData) {}

  /** The scene where all of it is decoded already, else null. */
  ready(way: number, frame: number): Scene | null {
    const [at] = this.data.ways[way].frames[frame]
    const target = this.decoded.get(keyOf(TARGETS_ID, at))?.value
    const lent = this.decoded.get(keyOf(framesId(way), frame))?.value
    const support = this.supports.get(this.data.targets[at].mask)?.value
    return target && lent && support ? { target, lent, support, ...this.place(at) } : null
  }

  /** @param way,frame index of the candidate, and of the frame among those it carries */
  async scene(way: number, frame: number): Promise<Scene> {
    const [at] = this.data.ways[way].frames[frame]
    const [target, lent, support] = await Promise.all([
      this.picture(TARGETS_ID, at),
      this.picture(framesId(way), frame),
      this.support(this.data.targets[at].mask),
    ])
    return { target, lent, support, ...this.place(at) }
  }

  private place(at: number): Pick<Scene, 'left' | 'top'> {
    const { rect, box } = this.data.targets[at]
    return { left: box[0] - rect[0], top: box[1] - rect[1] }
  }

  private support(mask: number): Promise<Uint8ClampedArray> {
    const known = this.supports.get(mask)
    if (known) return known.samples
    const file = this.data.masks[mask].support.split(',')[1]
    const entry: Support = { samples: decode(file).then(({ data }) => data.filter((_, i) => i % 4 === 0)) }
    this.supports.set(mask, entry)
    entry.samples.then((value) => {
      entry.value = value
    })
    return entry.samples
  }

  private picture(block: string, index: number): Promise<Samples> {
    const key = keyOf(block, index)
    const known = this.decoded.get(key)
    if (known) {
      // Back to the end of the queue: used just now.
      this.decoded.delete(key)
      this.decoded.set(key, known)
      return known.samples
    }
    const entry: Decoded = { samples: decode(this.file(block, index)), bytes: 0 }
    this.decoded.set(key, entry)
    entry.samples.then((value) => {
      entry.value = value
      entry.bytes = value.data.length
      this.forgetOldest()
    })
    return entry.samples
  }

  private file(block: string, index: number): string {
    let files = this.files.get(block)
    if (!files) {
      files = document.getElementById(block)!.textContent!.trim().split('\n')
      this.files.set(block, files)
    }
    return files[index]
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

function keyOf(block: string, index: number): string {
  return `${block}/${index}`
}

/** The first letters of a file in base64 tell what it is: JPEG, PNG or else WebP. */
function typeOf(base64: string): string {
  if (base64.startsWith('/9j/')) return 'image/jpeg'
  return base64.startsWith('iVBOR') ? 'image/png' : 'image/webp'
}

async function decode(base64: string): Promise<Samples> {
  const bytes = Uint8Array.from(atob(base64), (c) => c.charCodeAt(0))
  const bitmap = await createImageBitmap(new Blob([bytes], { type: typeOf(base64) }))
  const canvas = document.createElement('canvas')
  canvas.width = bitmap.width
  canvas.height = bitmap.height
  const context = canvas.getContext('2d', { willReadFrequently: true })!
  context.drawImage(bitmap, 0, 0)
  bitmap.close()
  const { data } = context.getImageData(0, 0, canvas.width, canvas.height)
  return { w: canvas.width, h: canvas.height, data }
}
