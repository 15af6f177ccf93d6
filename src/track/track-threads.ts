// The threads of a search that follow its frames. They are started before it is known against what: a thread's start takes
// about as long as telling that.
import { existsSync } from 'node:fs'
import { availableParallelism } from 'node:os'
import { fileURLToPath } from 'node:url'
import type { Piscina } from 'piscina'
import type { Plate } from '../footage/plate.js'
import type { Rect } from '../raster/rect.js'
import type { TrackedFrame, TrackerSetup } from './frame-tracker.js'
import { type PlateSetup, setupOf } from './plate-setup.js'
import type { Delivered } from './read-frames.js'
import type { Run } from './read-order.js'
import { readTracked } from './written-form.js'

/** What all tasks of a search have. */
export interface TrackSetup {
  readonly plates: readonly PlateSetup[]
  readonly tracker: TrackerSetup
}

/** Frames of one plate that a thread looks at in one go. A thread hears of one setup, again with every task. */
export interface TrackTask extends Run {
  readonly setup: TrackSetup
}

/** A thread must have this many frames to look at, or starting it takes longer than it saves. */
const MIN_FRAMES = 24
/** Pixels read of a frame up to which it is followed within a few milliseconds. */
const MAX_SHARED_PIXELS = 200_000
/** More threads than this only wait for the disk. */
const MAX_THREADS = 8

/** How the frames of a search are shared out. */
export interface Sharing {
  /** Threads beside this one; 0: all is done here. */
  readonly others: number
  /**
   * Whether this thread takes its share, too, where a frame is done in no time: it begins while the others start. A large one
   * would hold its event loop.
   */
  readonly here: boolean
}

/**
 * @param frames  of all plates
 * @param rect    what is read of each
 * @param threads this one among them
 */
export function sharingOf(
  plates: readonly Plate[],
  frames: number,
  { w, h }: Rect,
  threads = Math.min(availableParallelism(), MAX_THREADS, frames / MIN_FRAMES),
): Sharing {
  const streamed = plates.some((plate) => plate.streamed)
  // A movie is decoded in one stream; and before it is built the tool has no file that a thread could start from.
  if (threads < 2 || streamed || !existsSync(WORKER)) return { others: 0, here: true }
  const here = w * h <= MAX_SHARED_PIXELS
  return { others: Math.floor(threads) - (here ? 1 : 0), here }
}

const WORKER = fileURLToPath(new URL('./track-worker.js', import.meta.url))

export class TrackThreads {
  private constructor(
    readonly count: number,
    readonly pool: Piscina,
  ) {}

  static async start(count: number): Promise<TrackThreads> {
    const { Piscina } = await import('piscina')
    return new TrackThreads(count, new Piscina({ filename: WORKER, minThreads: count, maxThreads: count }))
  }

  /** @throws the error of a thread, an AbortError when `signal` fires */
  async run(task: TrackTask, signal: AbortSignal | undefined): Promise<Delivered<TrackedFrame>[]> {
    const written: Delivered<Uint8Array<ArrayBuffer>>[] = await this.pool.run(task, { signal })
    return written.map((one) =>
      one.message === undefined ? { frame: one.frame, kept: readTracked(one.kept) } : one,
    )
  }

  async close(): Promise<void> {
    await this.pool.destroy()
  }
}

/** A setup whose samples lie where all threads see them, so that a task that has it copies none. */
export function sharedSetup(plates: readonly Plate[], tracker: TrackerSetup): TrackSetup {
  const { reference, mask } = tracker
  const { inside, surround } = mask
  return {
    plates: plates.map((plate) => {
      const { avoided, ...setup } = setupOf(plate)
      if (avoided === undefined) return setup
      const hidden = [...avoided].map(
        ([frame, { rect, bits }]) => [frame, { rect, bits: inShared(bits) }] as const,
      )
      return { ...setup, avoided: new Map(hidden) }
    }),
    tracker: {
      ...tracker,
      reference: inShared(reference),
      mask: { inside: inShared(inside), surround: inShared(surround) },
    },
  }
}

function inShared<T extends Float32Array | Uint16Array | Uint8Array>(samples: T): T {
  const Samples = samples.constructor as new (buffer: SharedArrayBuffer) => T
  const copy = new Samples(new SharedArrayBuffer(samples.byteLength))
  copy.set(samples)
  return copy
}
