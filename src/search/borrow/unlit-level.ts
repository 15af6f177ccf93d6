// The light of a surface without a moment, pixel by pixel, and what a frame changes of it.
import { isOccluder, UNSEEN } from '../../match/light-change.js'
import { VALID } from '../../match/log-luminance.js'
import { keyOf } from '../../shot/frame-key.js'
import type { Registered } from '../register.js'
import type { Measured } from './changes.js'
import { type AroundPeak, aroundPeak } from './unlit-frames.js'

/** Change of light at a pixel of the searched window on one frame, stops; NaN where it is not known. */
export type ChangeAt = (i: number) => number

/** Light without the moment, at each pixel that is asked for. */
export class UnlitLevel {
  readonly #around: AroundPeak<Registered>
  readonly #before: Float32Array
  readonly #after: Float32Array
  readonly #isKnown: Uint8Array
  /** What was told of each frame's tiles. */
  readonly #kinds = new Map<Registered, Readonly<Uint8Array>>()

  constructor(
    readonly measured: Pick<Measured, 'grid' | 'changes'>,
    unlit: readonly Registered[],
    readonly peak: number,
  ) {
    this.#around = aroundPeak(unlit, peak)
    const { width, height } = measured.grid
    this.#before = new Float32Array(width * height)
    this.#after = new Float32Array(width * height)
    this.#isKnown = new Uint8Array(width * height)
  }

  /** At a frame's time, log2 luminance; NaN where no unlit frame shows it. */
  at(i: number, frame: number): number {
    if (i < 0) return Number.NaN
    if (this.#isKnown[i] === 0) {
      this.#isKnown[i] = 1
      const { before, after } = this.#around
      const [early, late] = [this.#meanOf(before, i), this.#meanOf(after, i)]
      this.#before[i] = Number.isNaN(early) ? late : early
      this.#after[i] = Number.isNaN(late) ? early : late
    }
    const late = this.#around.late(frame)
    return (1 - late) * this.#before[i] + late * this.#after[i]
  }

  #meanOf(frames: readonly Registered[], i: number): number {
    let sum = 0
    let n = 0
    for (const frame of frames) {
      if (!this.#isSeen(frame, i)) continue
      sum += frame.aligned[i] + frame.exposure
      n++
    }
    return n > 0 ? sum / n : Number.NaN
  }

  changeOn(frame: Registered): ChangeAt {
    return (i) =>
      i >= 0 && this.#isSeen(frame, i)
        ? frame.aligned[i] + frame.exposure - this.at(i, frame.frame)
        : Number.NaN
  }

  /** The surface is, and nobody in front of it or right beside. */
  #isSeen(frame: Registered, i: number): boolean {
    const { grid, changes } = this.measured
    if (frame.validity[i] !== VALID) return false
    let kinds = this.#kinds.get(frame)
    if (kinds === undefined) {
      kinds = changes.get(keyOf(frame))!.kind
      this.#kinds.set(frame, kinds)
    }
    const row = Math.floor(Math.floor(i / grid.width) / grid.size)
    const kind = kinds[row * grid.columns + Math.floor((i % grid.width) / grid.size)]
    return !isOccluder(kind) && kind !== UNSEEN
  }
}
