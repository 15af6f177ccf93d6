// One thread of `trackFrames`: reads frames of the plates by itself and follows the camera on them.
import { move, transferableSymbol, valueSymbol, workerData } from 'piscina'
import { laidOn, openPlate } from '../footage/plate.js'
import { Workspace } from '../kernels/workspace.js'
import { FrameTracker } from './frame-tracker.js'
import { type Delivered, readAndSee } from './read-frames.js'
import type { TrackSetup, TrackTask } from './track.js'
import { writeTracked } from './written-form.js'

const setup = workerData as TrackSetup
const plates = await Promise.all(
  setup.plates.map(async ({ spec, laid, avoided, ...options }) => {
    const opened = await openPlate(spec, options)
    const plate = avoided === undefined ? opened : { ...opened, avoided }
    return laid === undefined ? plate : laidOn(plate, laid.poses, laid.grid)
  }),
)
const tracker = new FrameTracker(new Workspace(), setup.tracker)

/** A few frames in their written form, which is handed over, not copied. */
export default async function track({ plate, frames }: TrackTask): Promise<unknown> {
  const found: Delivered<Uint8Array<ArrayBuffer>>[] = []
  const see = readAndSee(plates[plate], plate, frames, tracker.rect, (key, linear) =>
    writeTracked(tracker.see(key, linear)),
  )
  for await (const one of see) found.push(one)
  const buffers = found.flatMap(({ kept }) => (kept ? [kept.buffer] : []))
  return move({ [transferableSymbol]: buffers, [valueSymbol]: found })
}
