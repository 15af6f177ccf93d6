// Rows of a picture as an EXR block stores them: row by row, in each row channel by channel in alphabetical order.
// Source: openexr.com, "OpenEXR File Layout", and "Technical Introduction" for ZIP's byte order and predictor.
import type { Frame } from '../../raster/frame.js'
import { bitsToHalf, HALF_MAX } from '../../raster/half.js'

const FLOAT_MAX = 3.4028234663852886e38

/** How samples are stored. */
export interface SampleOptions {
  /** Default: half. */
  readonly pixelType?: 'half' | 'float'
  /**
   * `clamp`: samples beyond the largest finite value of the pixel type, infinity among them, become that value (65504
   * in a half), and NaN is the caller's mistake and throws. `keep`: they are stored as they are, for frames that must
   * come out as they went in. Default: clamp.
   */
  readonly nonFinite?: 'clamp' | 'keep'
}

export class BlockPacker {
  /** Rows that held samples beyond the largest finite value, and how many. */
  private readonly clampedIn = new Map<number, number>()
  private readonly half: boolean
  private readonly keep: boolean
  private readonly limit: number
  private readonly scratch: Float32Array
  private readonly bits: Uint32Array

  /** @param image [height, width, channels], not changed */
  constructor(
    private readonly image: Frame,
    readonly rowsPerBlock: number,
    options: SampleOptions,
  ) {
    this.half = (options.pixelType ?? 'half') === 'half'
    this.keep = options.nonFinite === 'keep'
    this.limit = this.half ? HALF_MAX : FLOAT_MAX
    this.scratch = new Float32Array(image.shape[1])
    this.bits = new Uint32Array(this.scratch.buffer)
  }

  /** Samples of the blocks that were packed that were beyond the largest finite value. */
  get clamped(): number {
    let sum = 0
    for (const count of this.clampedIn.values()) sum += count
    return sum
  }

  /** Bytes of a block as it is. */
  sizeOf(block: number): number {
    const [height, width, channels] = this.image.shape
    const rows = Math.min(height - block * this.rowsPerBlock, this.rowsPerBlock)
    return rows * width * channels * (this.half ? 2 : 4)
  }

  /** A block as it is, little endian. @throws RangeError where a sample is NaN that must not be */
  raw(block: number): Uint8Array {
    const out = new Uint8Array(this.sizeOf(block))
    const { half, bits } = this
    let to = 0
    for (const _ of this.lines(block)) {
      for (let x = 0; x < bits.length; x++) {
        const word = half ? bitsToHalf(bits[x]!) : bits[x]!
        out[to++] = word
        out[to++] = word >>> 8
        if (half) continue
        out[to++] = word >>> 16
        out[to++] = word >>> 24
      }
    }
    return out
  }

  /** A block as ZIP compresses it: its even bytes, then its odd ones, each less the byte before it. @throws as `raw` */
  predicted(block: number): Uint8Array {
    const out = new Uint8Array(this.sizeOf(block))
    const { half, bits } = this
    const middle = out.length >> 1
    let at = 0
    let even = 0
    let odd = 0
    let firstOdd = 0
    for (const _ of this.lines(block)) {
      if (at === 0) firstOdd = (half ? bitsToHalf(bits[0]!) : bits[0]!) >>> 8
      if (half) {
        for (let x = 0; x < bits.length; x++, at++) {
          const word = bitsToHalf(bits[x]!)
          out[at] = word - even + 128
          out[middle + at] = (word >>> 8) - odd + 128
          even = word
          odd = word >>> 8
        }
        continue
      }
      for (let x = 0; x < bits.length; x++, at += 2) {
        const word = bits[x]!
        out[at] = word - even + 128
        out[at + 1] = (word >>> 16) - word + 128
        out[middle + at] = (word >>> 8) - odd + 128
        out[middle + at + 1] = (word >>> 24) - (word >>> 8) + 128
        even = word >>> 16
        odd = word >>> 24
      }
    }
    // The very first byte stays; before the first odd byte comes the last even one.
    out[0] = out[0]! - 128
    out[middle] = firstOdd - even + 128
    return out
  }

  /** Puts line after line of a block, a row of one channel each, into `bits`. */
  private *lines(block: number): Generator<void, undefined> {
    const [height, , channels] = this.image.shape
    const first = block * this.rowsPerBlock
    const end = Math.min(height, first + this.rowsPerBlock)
    let clamped = 0
    for (let y = first; y < end; y++) {
      // A, B, G, R is the alphabetical order of R, G, B, A
      for (let c = channels - 1; c >= 0; c--) {
        clamped += this.load(y, c)
        yield
      }
    }
    if (clamped > 0) this.clampedIn.set(block, clamped)
  }

  /** @returns how many samples were clamped */
  private load(y: number, c: number): number {
    const [, width, channels] = this.image.shape
    const { scratch, limit, keep } = this
    const data = this.image.data
    let clamped = 0
    for (let x = 0, from = y * width * channels + c; x < width; x++, from += channels) {
      const value = data[from]!
      if (value >= -limit && value <= limit) scratch[x] = value
      else if (keep) scratch[x] = value
      else if (Number.isNaN(value))
        throw new RangeError(`the picture has NaN at x ${x}, y ${y}, channel ${c}`)
      else {
        scratch[x] = value > 0 ? limit : -limit
        clamped++
      }
    }
    return clamped
  }
}
