// Every frame of a search read and seen by the camera: on as many threads as there are cores, since both decoding and
// aligning take a core's whole time.
import { asTheyCome } from '../footage/as-they-come.js'
import type { Plate } from '../footage/plate.js'
import type { Workspace } from '../kernels/workspace.js'
import type { FrameKey } from '../shot/frame-key.js'
import { FrameTracker, type TrackedFrame, type TrackerSetup } from './frame-tracker.js'
import { type Arrival, type Delivered, type Placed, readAndSee, readEach, runByRun } from './read-frames.js'
import { plateByPlate, type Run } from './read-order.js'
import { sharedSetup, sharingOf, TrackThreads } from './track-threads.js'

/** Frames per task: enough that handing it over costs nothing beside it. */
const TASK_FRAMES = 8

/**
 * Follows the camera over frames, on as many threads as there are cores.
 *
 * @param runs    the same keys in the order in which they are read; left out: plate by plate
 * @param threads this one among them
 * @param started threads that are there already; they are closed at the end
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
    started,
    signal,
  }: {
    runs?: Iterable<Run>
    threads?: number
    started?: TrackThreads
    signal?: AbortSignal
  } = {},
): AsyncGenerator<Arrival<TrackedFrame>, void> {
  const { others, here } = sharingOf(plates, keys.length, setup.band ?? setup.rects.rect, threads)
  if (others !== started?.count) await started?.close()
  let tracker: FrameTracker | undefined
  const seeHere = ({ plate, frames }: Run) => {
    tracker ??= new FrameTracker(workspace, setup)
    const own = tracker
    return readAndSee(plates[plate], plate, frames, own.rect, (key, linear) => own.see(key, linear))
  }
  if (others === 0) {
    yield* readEach(plates, keys, () => runByRun(runs, seeHere), signal)
    return
  }
  const there = others === started?.count ? started : await TrackThreads.start(others)
  try {
    const shared = sharedSetup(plates, setup)
    const runThere = (run: Run) => there.run({ ...run, setup: shared }, signal)
    const deliver = () => inTasks(others, runThere, here ? seeHere : null, runs, signal)
    yield* readEach(plates, keys, deliver, signal)
  } finally {
    await there.close()
  }
}

/** What a task came to: a failure is a result too, so that it is heard when its turn comes. */
type Outcome = { readonly found: Placed<TrackedFrame>[] } | { readonly cause: unknown }

/** Results as they come, a task at a time; one task more than there are threads waits, so that none is idle. */
async function* inTasks(
  others: number,
  runThere: (task: Run) => Promise<Delivered<TrackedFrame>[]>,
  here: ((run: Run) => AsyncGenerator<Delivered<TrackedFrame>>) | null,
  runs: Iterable<Run>,
  signal: AbortSignal | undefined,
): AsyncGenerator<Placed<TrackedFrame>> {
  let busyHere = here === null
  const runHere = async (task: Run): Promise<Delivered<TrackedFrame>[]> => {
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
  const run = (task: Run): Promise<Outcome> =>
    (busyHere ? runThere(task) : runHere(task)).then(
      (found) => ({ found: found.map((one) => ({ ...one, plate: task.plate })) }),
      (cause) => ({ cause }),
    )
  for await (const outcome of asTheyCome(tasksOf(runs), others + 2, run)) {
    if ('found' in outcome) yield* outcome.found
    else {
      // Called off: with the caller's own reason.
      signal?.throwIfAborted()
      throw outcome.cause
    }
  }
}

function* tasksOf(runs: Iterable<Run>): Generator<Run> {
  for (const { plate, frames } of runs)
    for (let at = 0; at < frames.length; at += TASK_FRAMES)
      yield { plate, frames: frames.slice(at, at + TASK_FRAMES) }
}
