// Fields of white noise, the same for the same frame always, and a field that lasts from frame to frame.

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

/** All fields that are kept at once, bytes: three streams of 50 frames over 300 x 300 pixels. */
const MAX_KEPT_BYTES = 64 * 2 ** 20

/** White fields that are drawn once for all candidates of a result; nothing of them is written over. */
export class KeptNoise {
  readonly #kept = new Map<string, Float32Array>()
  #bytes = 0

  /** As whiteField. */
  field(length: number, frame: number, stream: number): Readonly<Float32Array> {
    const key = `${length} ${frame} ${stream}`
    const field = this.#kept.get(key) ?? this.#draw(key, length, frame, stream)
    this.#kept.delete(key)
    this.#kept.set(key, field)
    return field
  }

  #draw(key: string, length: number, frame: number, stream: number): Float32Array {
    const field = whiteField(length, frame, stream)
    this.#kept.set(key, field)
    this.#bytes += field.byteLength
    for (const [oldest, { byteLength }] of this.#kept) {
      if (this.#bytes <= MAX_KEPT_BYTES) break
      this.#bytes -= byteLength
      this.#kept.delete(oldest)
    }
    return field
  }
}

/** A field of variance 1 that is carried along by a share of itself from each frame to the next, beginning with a first frame. */
export class LastingField {
  #at: number | null = null
  #field: Float32Array

  /** @param carried per frame, the share of the field of the frame before, 0 to 1 */
  constructor(
    readonly length: number,
    readonly stream: number,
    readonly frames: readonly number[],
    readonly carried: (frame: number) => number,
  ) {
    this.#field = new Float32Array(length)
  }

  /** The field of a frame of the list. It is good until the next call. */
  at(frame: number): Readonly<Float32Array> {
    const wanted = this.frames.indexOf(frame)
    // A frame by itself comes after none.
    if (wanted < 0) return whiteField(this.length, frame, this.stream)
    if (this.#at === null || this.#at > wanted) {
      this.#field = whiteField(this.length, this.frames[0]!, this.stream)
      this.#at = 0
    }
    while (this.#at < wanted) {
      this.#at++
      const next = this.frames[this.#at]!
      const share = this.carried(next)
      const rest = Math.sqrt(1 - share * share)
      const white = whiteField(this.length, next, this.stream)
      for (let i = 0; i < white.length; i++) this.#field[i] = share * this.#field[i]! + rest * white[i]!
    }
    return this.#field
  }
}
