// One thread of `trackFrames`: reads frames of the plates by itself and follows the camera on them.
import { move, transferableSymbol, valueSymbol, workerData } from 'piscina'
import { openPlate } from '../footage/plate.js'
import { FrameTracker, type TrackedFrame } from './frame-tracker.js'
import { type Delivered, readAndSee } from './read-frames.js'
import type { TrackSetup, TrackTask } from './track.js'

const setup = workerData as TrackSetup
const plates = await Promise.all(setup.plates.map(({ spec, ...options }) => openPlate(spec, options)))
const tracker = new FrameTracker(setup.tracker)

/** What is made of a few frames; their pictures are handed over, not copied. */
export default async function track({ plate, frames }: TrackTask): Promise<unknown> {
  const found: Delivered<TrackedFrame>[] = []
  for await (const one of readAndSee(plates[plate], plate, frames, tracker.rect, (key, linear) =>
    tracker.see(key, linear),
  )) {
    found.push(one)
  }
  const pictures = found.flatMap(({ kept }) =>
    kept
      ? [kept.seen.log.data.buffer, kept.seen.validity.buffer, ...(kept.lit ? [kept.lit.rgb.buffer] : [])]
      : [],
  )
  return move({ [transferableSymbol]: pictures, [valueSymbol]: found })
}
