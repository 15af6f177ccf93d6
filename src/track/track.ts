// Every frame of a search read and seen by the camera: on as many threads as there are cores, since both decoding and
// aligning take a core's whole time.
import { existsSync } from 'node:fs'
import { availableParallelism } from 'node:os'
import { fileURLToPath } from 'node:url'
import type { Piscina } from 'piscina'
import { asTheyCome } from '../footage/as-they-come.js'
import type { Plate } from '../footage/plate.js'
import type { Workspace } from '../kernels/workspace.js'
import type { FrameKey } from '../shot/frame-key.js'
import { FrameTracker, type TrackedFrame, type TrackerSetup } from './frame-tracker.js'
import { type PlateSetup, setupOf } from './plate-setup.js'
import { type Arrival, type Delivered, type Placed, readAndSee, readEach, runByRun } from './read-frames.js'
import { plateByPlate, type Run } from './read-order.js'
import { readTracked } from './written-form.js'

/** What every thread starts from. */
export interface TrackSetup {
  readonly plates: readonly PlateSetup[]
  readonly tracker: TrackerSetup
}

/** Frames of one plate that a thread looks at in one go. */
export type TrackTask = Run

/** Frames per task: enough that handing it over costs nothing beside it. */
const TASK_FRAMES = 8
/** A thread must have this many frames to look at, or starting it takes longer than it saves. */
const MIN_FRAMES = 24
/** Pixels read of a frame up to which it is followed within a few milliseconds. */
const MAX_SHARED_PIXELS = 200_000
/** More threads than this only wait for the disk. */
const MAX_THREADS = 8

/**
 * Follows the camera over frames, on as many threads as there are cores.
 *
 * @param runs    the same keys in the order in which they are read; left out: plate by plate
 * @param threads this one among them
 * @throws as readEach
 */
export async function* trackFrames(
  workspace: Workspace,
  plates: readonly Plate[],
  keys: readonly FrameKey[],
  setup: TrackerSetup,
  {
    runs = plateByPlate(plates, keys),
    threads,
    signal,
  }: { runs?: Iterable<Run>; threads?: number; signal?: AbortSignal } = {},
): AsyncGenerator<Arrival<TrackedFrame>, void> {
  const worker = fileURLToPath(new URL('./track-worker.js', import.meta.url))
  const wanted = threads ?? Math.min(availableParallelism(), MAX_THREADS, keys.length / MIN_FRAMES)
  let tracker: FrameTracker | undefined
  const seeHere = ({ plate, frames }: Run) => {
    tracker ??= new FrameTracker(workspace, setup)
    const here = tracker
    return readAndSee(plates[plate], plate, frames, here.rect, (key, linear) => here.see(key, linear))
  }
  // A movie is decoded in one stream; and before it is built the tool has no file that a thread could start from.
  const streamed = plates.some((plate) => plate.streamed)
  if (wanted < 2 || streamed || !existsSync(worker)) {
    yield* readEach(plates, keys, () => runByRun(runs, seeHere), signal)
    return
  }
  const specs = plates.map(setupOf)
  // This thread takes its share where a frame is done in no time: it begins while the others start. A large one would hold
  // its event loop.
  const { w, h } = setup.band ?? setup.rects.rect
  const shares = w * h <= MAX_SHARED_PIXELS
  const others = Math.floor(wanted) - (shares ? 1 : 0)
  const { Piscina } = await import('piscina')
  const pool = new Piscina({
    filename: worker,
    minThreads: others,
    maxThreads: others,
    workerData: { plates: specs, tracker: setup } satisfies TrackSetup,
  })
  const deliver = () => inTasks(pool, shares ? seeHere : null, runs, signal)
  try {
    yield* readEach(plates, keys, deliver, signal)
  } finally {
    await pool.destroy()
  }
}

/** What a task came to: a failure is a result too, so that it is heard when its turn comes. */
type Outcome = { readonly found: Placed<TrackedFrame>[] } | { readonly cause: unknown }

/** Results as they come, a task at a time; one task more than there are threads waits, so that none is idle. */
async function* inTasks(
  pool: Piscina,
  here: ((run: Run) => AsyncGenerator<Delivered<TrackedFrame>>) | null,
  runs: Iterable<Run>,
  signal: AbortSignal | undefined,
): AsyncGenerator<Placed<TrackedFrame>> {
  let busyHere = here === null
  const runHere = async (task: TrackTask): Promise<Delivered<TrackedFrame>[]> => {
    busyHere = true
    const found: Delivered<TrackedFrame>[] = []
    try {
      for await (const one of here!(task)) {
        signal?.throwIfAborted()
        found.push(one)
      }
    } finally {
      busyHere = false
    }
    return found
  }
  const runThere = async (task: TrackTask): Promise<Delivered<TrackedFrame>[]> => {
    const written: Delivered<Uint8Array<ArrayBuffer>>[] = await pool.run(task, { signal })
    return written.map((one) =>
      one.message === undefined ? { frame: one.frame, kept: readTracked(one.kept) } : one,
    )
  }
  const run = (task: TrackTask): Promise<Outcome> =>
    (busyHere ? runThere(task) : runHere(task)).then(
      (found) => ({ found: found.map((one) => ({ ...one, plate: task.plate })) }),
      (cause) => ({ cause }),
    )
  for await (const outcome of asTheyCome(tasksOf(runs), pool.threads.length + 2, run)) {
    if ('found' in outcome) yield* outcome.found
    else {
      // Called off: with the caller's own reason.
      signal?.throwIfAborted()
      throw outcome.cause
    }
  }
}

function* tasksOf(runs: Iterable<Run>): Generator<TrackTask> {
  for (const { plate, frames } of runs)
    for (let at = 0; at < frames.length; at += TASK_FRAMES)
      yield { plate, frames: frames.slice(at, at + TASK_FRAMES) }
}
