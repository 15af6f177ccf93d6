// Fields of white noise, the same for the same frame always, and a field that lasts from frame to frame.
import { RecentlyUsed } from '../../recently-used.js'

/** Standard normal numbers: mulberry32 under the polar form of Box and Muller (G. Marsaglia, 1964). */
export function gaussian(seed: number): () => number {
  let state = Math.imul(seed ^ 0x9e3779b9, 0x85ebca6b) >>> 0
  const uniform = (): number => {
    state = (state + 0x6d2b79f5) >>> 0
    let t = state
    t = Math.imul(t ^ (t >>> 15), t | 1)
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61)
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32
  }
  let spare = Number.NaN
  return () => {
    if (!Number.isNaN(spare)) {
      const value = spare
      spare = Number.NaN
      return value
    }
    for (;;) {
      const [u, v] = [2 * uniform() - 1, 2 * uniform() - 1]
      const s = u * u + v * v
      if (s >= 1 || s === 0) continue
      const scale = Math.sqrt((-2 * Math.log(s)) / s)
      spare = v * scale
      return u * scale
    }
  }
}

/** What tells the fields of one frame apart. */
const STREAMS = 8

/** White noise of variance 1, one of a frame's streams 0 to 7. */
export function whiteField(length: number, frame: number, stream: number): Float32Array {
  const random = gaussian(Math.imul(frame, STREAMS) + stream)
  const out = new Float32Array(length)
  for (let i = 0; i < length; i++) out[i] = random()
  return out
}

/** All fields that are kept at once, bytes: six streams of 60 frames over 300 x 300 pixels. */
const MAX_KEPT_BYTES = 128 * 2 ** 20

/** Fields that are made once for all candidates of a result; nothing of them is written over. */
export class KeptNoise {
  readonly #kept = new RecentlyUsed<Float32Array>(MAX_KEPT_BYTES)

  /** As whiteField. */
  field(length: number, frame: number, stream: number): Readonly<Float32Array> {
    return this.made(`${length} ${frame} ${stream}`, () => whiteField(length, frame, stream))
  }

  /** A field by its name, made where it is not kept. */
  made(name: string, make: () => Float32Array): Readonly<Float32Array> {
    const known = this.#kept.get(name)
    if (known !== undefined) return known
    const field = make()
    this.#kept.set(name, field, field.byteLength)
    return field
  }
}

/**
 * A field of variance 1 that is carried along by a share of itself from each frame to the next, beginning with the first frame:
 * the same for all candidates of a result. Frames in their order are quickest.
 */
export class LastingField {
  #at = -1
  #field: Float32Array
  readonly #noise: KeptNoise

  /**
   * @param carried the share of the field of the frame before, 0 to 1
   * @param noise   that all of a result's candidates share
   */
  constructor(
    readonly length: number,
    readonly stream: number,
    readonly frames: readonly number[],
    readonly carried: number,
    noise: KeptNoise = new KeptNoise(),
  ) {
    this.#field = new Float32Array(length)
    this.#noise = noise
  }

  /** The field of a frame of the list; nothing of it is written over. */
  at(frame: number): Readonly<Float32Array> {
    const wanted = this.frames.indexOf(frame)
    // A frame by itself comes after none.
    if (wanted < 0) return this.#noise.field(this.length, frame, this.stream)
    return this.#noise.made(this.#keyOf(wanted), () => this.#carriedTo(wanted))
  }

  #keyOf(index: number): string {
    return `${this.length} ${this.stream} ${this.carried} ${this.frames.slice(0, index + 1).join(' ')}`
  }

  #carriedTo(wanted: number): Float32Array {
    if (this.#at < 0 || this.#at > wanted) {
      this.#field = whiteField(this.length, this.frames[0]!, this.stream)
      this.#at = 0
    }
    const rest = Math.sqrt(1 - this.carried * this.carried)
    while (this.#at < wanted) {
      this.#at++
      const white = whiteField(this.length, this.frames[this.#at]!, this.stream)
      for (let i = 0; i < white.length; i++)
        this.#field[i] = this.carried * this.#field[i]! + rest * white[i]!
    }
    return this.#field.slice()
  }
}
