// Fields of white noise, the same for the same frame always, and a field that lasts from frame to frame.
import { codecs } from '../../kernels/codecs.js'
import { carryOn, whiteNoise } from '../../kernels/noise.js'
import { RecentlyUsed } from '../../recently-used.js'

/** What tells the fields of one frame apart. */
const STREAMS = 8

/**
 * White noise of variance 1, one of a frame's streams 0 to 7: mulberry32 under the polar form of Box and Muller (G. Marsaglia,
 * 1964), two numbers at a time.
 */
export function whiteField(length: number, frame: number, stream: number): Float32Array {
  const out = new Float32Array(length)
  whiteNoise(codecs(), stateOf(frame, stream), out)
  return out
}

function stateOf(frame: number, stream: number): number {
  return Math.imul((Math.imul(frame, STREAMS) + stream) ^ 0x9e3779b9, 0x85ebca6b) | 0
}

/** All fields that are kept at once, bytes: six streams of 60 frames over 300 x 300 pixels. */
const MAX_KEPT_BYTES = 128 * 2 ** 20

/** Fields that are made once for all candidates of a result; nothing of them is written over. */
export class KeptNoise {
  readonly #kept: RecentlyUsed<Readonly<Float32Array>>

  /** @param room share of what may be kept in memory, 0 to 1 */
  constructor(room = 1) {
    this.#kept = new RecentlyUsed(room * MAX_KEPT_BYTES)
  }

  /** As whiteField. */
  field(length: number, frame: number, stream: number): Readonly<Float32Array> {
    return this.made(`${length} ${frame} ${stream}`, () => whiteField(length, frame, stream))
  }

  /** A field by its name; undefined where it is not kept. */
  known(name: string): Readonly<Float32Array> | undefined {
    return this.#kept.get(name)
  }

  /** A field by its name, made where it is not kept. */
  made(name: string, make: () => Readonly<Float32Array>): Readonly<Float32Array> {
    const known = this.known(name)
    if (known !== undefined) return known
    const field = make()
    this.#kept.set(name, field, field.byteLength)
    return field
  }
}

/** The field of one frame of a list, by index. */
interface LastField {
  readonly index: number
  readonly field: Readonly<Float32Array>
}

/**
 * A field of variance 1 that is carried along by a share of itself from each frame to the next, beginning with the first frame:
 * the same for all candidates of a result. Frames in their order are quickest.
 */
export class LastingField {
  /** The last that was made: where no room is to keep any, the next begins there. */
  #last: LastField | undefined
  readonly #carried: readonly number[]
  readonly #noise: KeptNoise

  /**
   * @param carried the share of the field of the frame before, 0 to 1, the same for all or by frame
   * @param noise   that all of a result's candidates share
   */
  constructor(
    readonly length: number,
    readonly stream: number,
    readonly frames: readonly number[],
    carried: number | readonly number[],
    noise: KeptNoise = new KeptNoise(),
  ) {
    this.#carried = typeof carried === 'number' ? frames.map(() => carried) : carried
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
    const of = <T>(list: readonly T[]) => list.slice(0, index + 1).join(' ')
    return `${this.length} ${this.stream} ${of(this.#carried)} ${of(this.frames)}`
  }

  /** Carried along from the nearest frame before it that is known; those between are kept, since other candidates ask for them. */
  #carriedTo(wanted: number): Readonly<Float32Array> {
    let { index, field } = this.#knownBefore(wanted)
    while (index < wanted) {
      field = this.#carry(field, ++index)
      if (index < wanted) this.#noise.made(this.#keyOf(index), () => field)
    }
    this.#last = { index, field }
    return field
  }

  #knownBefore(wanted: number): LastField {
    for (let index = wanted - 1; index >= 0; index--) {
      if (this.#last?.index === index) return this.#last
      const field = this.#noise.known(this.#keyOf(index))
      if (field !== undefined) return { index, field }
    }
    return { index: 0, field: whiteField(this.length, this.frames[0]!, this.stream) }
  }

  #carry(field: Readonly<Float32Array>, index: number): Readonly<Float32Array> {
    const carried = this.#carried[index]!
    if (carried === 1) return field
    const out = new Float32Array(this.length)
    carryOn(codecs(), field, carried, stateOf(this.frames[index]!, this.stream), out)
    return out
  }
}
