// In which order the frames of a search are read. What is found does not hang on it; how soon something is found does.
import type { Plate } from '../footage/plate.js'
import { subsample } from '../match/subsample.js'
import { byFrame, type FrameKey, framesOf, keyOf } from '../shot/frame-key.js'

/** Frames of one plate that are read together, in this order. */
export interface Run {
  readonly plate: number
  readonly frames: readonly number[]
}

/** Plate by plate, each as its frames come among the keys. */
export function* plateByPlate(plates: readonly unknown[], keys: readonly FrameKey[]): Generator<Run> {
  for (const plate of plates.keys()) yield { plate, frames: framesOf(keys, plate) }
}

/** Frames of a plate that are read together: enough that a thread is kept busy by them. */
const RUN_FRAMES = 8

/**
 * First what `first` names, then all the rest spread over all plates: after any number of frames about equal parts of every
 * stretch of every plate have been read (J. G. van der Corput's sequence, 1935), in turn with what `soon` names. Neighbours
 * in that order are read a few at a time, each few in order of their frames. A streamed plate is read as a whole in the
 * order of its frames.
 */
export class SpreadOrder implements Iterable<Run> {
  readonly #streamed: Run[]
  #left: FrameKey[]
  readonly #runFrames: number

  /**
   * @param keys  all that is to be read, each once
   * @param first which of them come first
   * @param soon  which come next, in this order, every other of them one that is spread
   */
  constructor(
    readonly plates: readonly Pick<Plate, 'streamed'>[],
    keys: readonly FrameKey[],
    first: readonly FrameKey[] = [],
    soon: readonly FrameKey[] = [],
  ) {
    const isStreamed = ({ plate }: FrameKey) => plates[plate].streamed
    this.#streamed = plates.flatMap((p, plate) =>
      p.streamed ? [{ plate, frames: framesOf(keys, plate) }] : [],
    )
    const byName = new Set(first.map(keyOf))
    const [named, rest] = split(
      keys.filter((key) => !isStreamed(key)),
      (key) => byName.has(keyOf(key)),
    )
    const isSoon = new Set(soon.map(keyOf))
    const [next, others] = split(rest, (key) => isSoon.has(keyOf(key)))
    const placeOf = new Map(soon.map((key, i) => [keyOf(key), i]))
    next.sort((a, b) => placeOf.get(keyOf(a))! - placeOf.get(keyOf(b))!)
    this.#left = [...named, ...inTurn(next, farApartFirst(others.sort(byFrame)))]
    this.#runFrames = RUN_FRAMES * Math.max(1, plates.length - this.#streamed.length)
  }

  /** What has not been handed out yet is read in this order before all else that has not been. */
  hasten(keys: readonly FrameKey[]): void {
    const left = new Map(this.#left.map((key) => [keyOf(key), key]))
    const sooner: FrameKey[] = []
    for (const key of keys) {
      const name = keyOf(key)
      if (left.delete(name)) sooner.push(key)
    }
    this.#left = [...sooner, ...left.values()]
  }

  *[Symbol.iterator](): Generator<Run> {
    // The target's plate is among the first.
    const streamedFirst = this.plates[0].streamed
    if (streamedFirst) yield* this.#streamed
    while (this.#left.length > 0) {
      const some = this.#left.splice(0, this.#runFrames).sort(byFrame)
      for (const plate of new Set(some.map((key) => key.plate)))
        yield { plate, frames: framesOf(some, plate) }
    }
    if (!streamedFirst) yield* this.#streamed
  }
}

/**
 * The target frames that are looked at before all are read, evenly over the range.
 *
 * @param most at least 1
 */
export function firstTargets(targets: readonly number[], most: number): FrameKey[] {
  return subsample(targets, most).map((frame) => ({ plate: 0, frame }))
}

/**
 * Frames before and after a range, in turn, each as far again from it as the one before: what was shot next to the target
 * tells most of it, and nobody knows beforehand how far from it the region comes free.
 *
 * @param plate   the target's plate, frames in order
 * @param targets in order
 */
export function besideTargets(plate: readonly number[], targets: readonly number[]): FrameKey[] {
  const before = plate.filter((frame) => frame < targets[0]).reverse()
  const after = plate.filter((frame) => frame > targets[targets.length - 1])
  const frames: number[] = []
  for (let step = 1; step <= Math.max(before.length, after.length); step *= 2)
    for (const side of [before, after]) frames.push(...side.slice(step - 1, step))
  return frames.map((frame) => ({ plate: 0, frame }))
}

/** One of each list after the other, as long as there are any. */
function inTurn<T>(one: readonly T[], other: readonly T[]): T[] {
  const long = Array.from({ length: Math.max(one.length, other.length) }, (_, i) => i)
  return long.flatMap((i) => [...one.slice(i, i + 1), ...other.slice(i, i + 1)])
}

/** Items in the order of their places' bits read backwards: however few are taken, they are spread over the list. */
export function farApartFirst<T>(items: readonly T[]): T[] {
  const bits = Math.ceil(Math.log2(Math.max(1, items.length)))
  const out: T[] = []
  for (let i = 0; i < 2 ** bits; i++) {
    let place = 0
    for (let bit = 0; bit < bits; bit++) if ((i >> bit) & 1) place |= 1 << (bits - 1 - bit)
    if (place < items.length) out.push(items[place])
  }
  return out
}

function split<T>(items: readonly T[], wanted: (item: T) => boolean): [T[], T[]] {
  return [items.filter(wanted), items.filter((item) => !wanted(item))]
}
