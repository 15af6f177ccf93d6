// Where the plate's frames lie on each other round the region: told by the plate itself, so once for all candidates.
import { type Lying, lyingOn, type Seen } from '../grain/laid-frames.js'
import type { RepairJob } from '../repair.js'
import { isTelling } from './pair.js'

/** A frame of the plate over the region's window, as it was shot. */
export interface PlateFrame extends Seen {
  /** 1 on the surround of this frame's mask. */
  readonly surround: Readonly<Float32Array>
}

/** By how much a frame is moved onto the next one; `response` is null where it lies on it as it is. */
export type Place = Pick<Lying, 'response' | 'dx' | 'dy'>

/** By number of the later frame. */
const known = new WeakMap<RepairJob, Map<number, Place | null>>()

/**
 * How the frame before lies on a frame, by the surround that both show.
 *
 * @param before the frame with the number before
 * @returns null where it can't be placed, or the plate repeats it
 */
export function placeOfBefore(job: RepairJob, now: PlateFrame, before: PlateFrame): Place | null {
  const places = known.get(job) ?? new Map<number, Place | null>()
  known.set(job, places)
  const found = places.get(now.frame)
  if (found !== undefined) return found
  const { workspace, result } = job
  const trusted = bothSurrounds(now, before, job.target.clipLevel)
  const lying = lyingOn(workspace, now, [before, now], trusted, result.camera !== undefined)
  const place = lying.find(({ frame }) => frame === before.frame) ?? null
  const kept = place && { response: place.response, dx: place.dx, dy: place.dy }
  places.set(now.frame, kept)
  return kept
}

function bothSurrounds(a: PlateFrame, b: PlateFrame, clip: number): Float32Array {
  const out = new Float32Array(a.surround.length)
  for (let i = 0; i < out.length; i++) {
    const isSeen = a.surround[i]! > 0 && b.surround[i]! > 0
    const isTold = isSeen && isTelling(a.picture.data, 3 * i, clip) && isTelling(b.picture.data, 3 * i, clip)
    out[i] = isTold ? 1 : 0
  }
  return out
}
