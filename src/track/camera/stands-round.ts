// Something large and near that moves, a lorry or a hand with a board, is followed as a camera when it fills most of the frame.
// Whatever a camera that moves shows moves: a region whose surroundings stay where they are is seen by one that stands.
import type { Plate } from '../../footage/plate.js'
import { subsampleToEnds } from '../../match/subsample.js'
import { IDENTITY, type Transform } from '../../raster/transform.js'
import { untilAborted } from '../../turns.js'
import type { RegionFollower } from './on-region.js'

/** Frames on which it is told, spread over the plate, beside those that lie next to the reference frame. */
const TOLD_BY = 14
const BESIDE = [-6, -3, -1, 1, 3, 6]
/** Unmoved surroundings that correlate less with the reference frame's are hidden, or are other ones. */
const MIN_STILL = 0.6
/** What the poses must gain to say that the surroundings move: what a tenth of a pixel makes on fine texture is less. */
const GAIN = 0.004
/** So many frames must have shown the surroundings where they are. */
const MIN_FRAMES = 4
/** And no more than this share of those that can tell may show them elsewhere. */
const MAX_MOVED = 0.1
/** So many of a plate's frames must be lost, and at rest, to say that not the camera was followed. */
const MOST = 0.5

/**
 * Do the region's surroundings stay where they are over a plate, whatever the whole frame's poses say? A frame beside the
 * reference frame that shows them elsewhere refuses it alone.
 *
 * @param poses that the whole frame was followed to; frames that were not followed are left out
 */
export async function standsRound(
  ring: RegionFollower,
  plate: Plate,
  poses: ReadonlyMap<number, Transform>,
  reference: number | null,
  signal?: AbortSignal,
): Promise<boolean> {
  const { frames } = plate
  const at = reference === null ? -1 : frames.indexOf(reference)
  const beside = new Set(at < 0 ? [] : BESIDE.flatMap((by) => frames[at + by] ?? []))
  const some = [...new Set([...beside, ...subsampleToEnds(frames, TOLD_BY)])]
    .filter((frame) => frame !== reference)
    .sort((a, b) => a - b)
  if (await restsWhereLost(ring, plate, some, poses, signal)) return true
  const agreement = async (poseOf: (frame: number) => Transform | undefined) => {
    const laid = some.flatMap((frame) => {
      const pose = poseOf(frame)
      return pose ? [{ frame, pose }] : []
    })
    const found = new Map<number, number>()
    for await (const { frame, roughNcc } of untilAborted(ring.agreement(plate, laid), signal))
      if (roughNcc !== null) found.set(frame, roughNcc)
    return found
  }
  const still = await agreement(() => IDENTITY)
  const moved = await agreement((frame) => poses.get(frame))
  let [stays, goes] = [0, 0]
  for (const frame of some) {
    const [here, there] = [still.get(frame) ?? -1, moved.get(frame) ?? -1]
    if (there > Math.max(here + GAIN, MIN_STILL)) {
      if (beside.has(frame)) return false
      goes++
    } else if (here > MIN_STILL) stays++
  }
  return stays >= MIN_FRAMES && goes <= MAX_MOVED * (stays + goes)
}

/**
 * Before a plain wall whoever moves is followed as a camera, and lost as soon as they are gone. Are most frames lost that show
 * the region's surroundings as the reference frame does?
 */
async function restsWhereLost(
  ring: RegionFollower,
  plate: Plate,
  some: readonly number[],
  poses: ReadonlyMap<number, Transform>,
  signal?: AbortSignal,
): Promise<boolean> {
  const lost = some.filter((frame) => !poses.has(frame))
  if (lost.length < MOST * some.length) return false
  let atRest = 0
  for await (const _ of untilAborted(ring.atRest(plate, lost), signal)) atRest++
  return atRest >= MOST * some.length
}
