// One thread of `TrackThreads`: reads frames of the plates by itself and follows the camera on them.
import { move, transferableSymbol, valueSymbol } from 'piscina'
import type { Plate } from '../footage/plate.js'
import { Workspace } from '../kernels/workspace.js'
import { FrameTracker, type KeptSamples } from './frame-tracker.js'
import { openSetup } from './plate-setup.js'
import { type Delivered, readAndSee } from './read-frames.js'
import type { TrackTask } from './track-threads.js'
import { writeTracked } from './written-form.js'

/** Opened for the first task: a thread that comes too late for any opens nothing, and what fails fails a task. */
const opened: (Promise<Plate> | undefined)[] = []
/** One frame after the other lies in the room until it is written. */
let tracking: { readonly tracker: FrameTracker; readonly room: KeptSamples } | undefined

/** A few frames in their written form, which is handed over, not copied. */
export default async function track({ setup, plate, frames }: TrackTask): Promise<unknown> {
  const found: Delivered<Uint8Array<ArrayBuffer>>[] = []
  if (tracking === undefined) {
    const tracker = new FrameTracker(new Workspace(), setup.tracker)
    tracking = { tracker, room: tracker.room() }
  }
  const { tracker, room } = tracking
  opened[plate] ??= openSetup(setup.plates[plate])
  const see = readAndSee(await opened[plate], plate, frames, tracker.rect, (key, linear) =>
    writeTracked(tracker.see(key, linear, room)),
  )
  for await (const one of see) found.push(one)
  const buffers = found.flatMap(({ kept }) => (kept ? [kept.buffer] : []))
  return move({ [transferableSymbol]: buffers, [valueSymbol]: found })
}
