// The strip of a plate: light, movement and repeats of its frames, measured in the background on the proxies that are shown, over
// all of the plate first and then closer and closer.
import pLimit from 'p-limit'
import { OffcutError } from '../errors.js'
import type { Plate } from '../footage/plate.js'
import { farApartFirst } from '../track/read-order.js'
import type { StripFrame } from './messages.js'
import { type KeptLight, keptLight } from './pictures/kept-light.js'
import type { Pictures } from './pictures/pictures.js'
import { meanLight, type SmallLight } from './pictures/small-light.js'
import { sentenceOf } from './refused.js'

/** Frames that are told of together. */
const TELL_MS = 250

export class Strip {
  /** What is known, by frame. */
  readonly frames = new Map<number, StripFrame>()
  /** Small pictures of the frames that could be read. */
  readonly kept = new Map<number, KeptLight>()
  /** Of frames whose neighbours are not measured yet. */
  readonly #small = new Map<number, { light: SmallLight; print: string }>()
  readonly #index: ReadonlyMap<number, number>
  readonly #stop = new AbortController()
  #fresh = new Set<number>()
  #timer: NodeJS.Timeout | null = null

  /** @param tell is told of frames that are known now, or known better */
  constructor(
    readonly plate: Plate,
    readonly pictures: Pictures,
    readonly tell: (frames: StripFrame[]) => void,
  ) {
    this.#index = new Map(plate.frames.map((frame, i) => [frame, i]))
    // A movie comes in its order: every frame out of it takes decoding others.
    const order = plate.streamed ? plate.frames : farApartFirst(plate.frames)
    const limit = pLimit(Math.max(1, pictures.threads.lanes.width - 1))
    for (const frame of order) void limit(() => this.#measure(frame))
  }

  close(): void {
    this.#stop.abort()
    if (this.#timer !== null) clearTimeout(this.#timer)
    this.#timer = null
  }

  async #measure(frame: number): Promise<void> {
    const { signal } = this.#stop
    if (signal.aborted) return
    try {
      const { small, print } = await this.pictures.measured(this.plate, frame, signal)
      this.#small.set(frame, { light: small, print })
      this.kept.set(frame, keptLight(small))
      this.#know({ frame, light: meanLight(small), moved: null, repeats: null })
    } catch (cause) {
      if (signal.aborted) return
      if (!(cause instanceof OffcutError)) throw cause
      this.#know({ frame, light: null, moved: null, repeats: null, message: sentenceOf(cause).message })
    }
    const at = this.#index.get(frame)!
    await this.#compare(at)
    await this.#compare(at + 1)
    for (const near of [at - 1, at, at + 1]) this.#forget(near)
  }

  /** Compares a frame with the one before it, where both are measured. */
  async #compare(at: number): Promise<void> {
    const [before, frame] = [this.plate.frames[at - 1], this.plate.frames[at]]
    const a = before === undefined ? undefined : this.#small.get(before)
    const b = frame === undefined ? undefined : this.#small.get(frame)
    if (a === undefined || b === undefined || before === undefined || frame === undefined) return
    const repeats = a.print === b.print ? before : null
    const moved =
      repeats !== null
        ? 0
        : await this.pictures.movement(a.light, b.light, this.#stop.signal).catch(() => null)
    const known = this.frames.get(frame)
    if (known !== undefined && !this.#stop.signal.aborted) this.#know({ ...known, moved, repeats })
  }

  /** What both neighbours have been compared with is not needed any more. */
  #forget(at: number): void {
    const { frames } = this.plate
    const frame = frames[at]
    const isKnown = (i: number) => frames[i] === undefined || this.frames.has(frames[i])
    if (frame !== undefined && isKnown(at - 1) && isKnown(at) && isKnown(at + 1)) this.#small.delete(frame)
  }

  #know(known: StripFrame): void {
    this.frames.set(known.frame, known)
    this.#fresh.add(known.frame)
    this.#timer ??= setTimeout(() => {
      this.#timer = null
      const fresh = this.#fresh
      this.#fresh = new Set()
      this.tell([...fresh].sort((a, b) => a - b).map((frame) => this.frames.get(frame)!))
    }, TELL_MS)
  }
}
