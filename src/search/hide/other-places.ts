// Other places of the target's own frames, as donors: each is searched by itself, as if it were another take of which only the
// target frames are known. What the region showed at other times says nothing of them.
import { laidOn } from '../../footage/plate.js'
import type { Workspace } from '../../kernels/workspace.js'
import { compose, IDENTITY, type Offset, shift } from '../../raster/transform.js'
import type { Shot } from '../../shot/open-shot.js'
import type { LaidShot } from '../laid-shot.js'
import { placesLike } from '../places.js'
import type { Candidate } from '../result.js'
import { byRank } from '../score.js'

/** Candidates of a place that are listed. */
const LISTED_OF_A_PLACE = 2

/** One place: a shot to search on, and how far off it lies. */
export interface OtherPlace {
  readonly shot: Shot
  /** Brings it to the region, pixels. */
  readonly place: Offset
}

/** Places of a target frame that look as the region's surround does, best first. */
export async function otherPlaces(
  workspace: Workspace,
  asked: Shot,
  laid: LaidShot | null,
): Promise<OtherPlace[]> {
  const shot = laid?.shot ?? asked
  const { region, frames, plates } = shot
  const reference = laid?.camera?.reference ?? frames[frames.length >> 1]
  const mask = region.frames.get(reference) ?? region.frames.get(frames[frames.length >> 1])!
  const places = await placesLike(workspace, asked.plates[0], reference, region, mask)
  const poses = plates[0].laid?.poses
  return places.map((place, i) => {
    const there = frames.map(
      (f) => [f, compose(shift(place.dx, place.dy), poses?.get(f) ?? IDENTITY)] as const,
    )
    const index = plates.length + i
    // Of the target's own plate only what is to be repaired, of all others nothing.
    const [target, ...others] = Array.from({ length: index }, (_, k) => ({
      ...plates[Math.min(k, plates.length - 1)],
      frames: k === 0 ? frames : [],
    }))
    return {
      place,
      shot: {
        ...shot,
        plates: [target, ...others, laidOn(asked.plates[0], new Map(there), plates[0])],
        donors: frames.map((frame) => ({ plate: index, frame })),
      },
    }
  })
}

/** Why nothing from another place holds up without a look. */
export function placeDoubt({ dx, dy }: Offset): string {
  const across = dx === 0 ? '' : `${Math.abs(dx).toFixed(0)} px to the ${dx > 0 ? 'left' : 'right'}`
  const down = dy === 0 ? '' : `${Math.abs(dy).toFixed(0)} px ${dy > 0 ? 'above' : 'below'}`
  const where = [across, down].filter((s) => s !== '' && !s.startsWith('0 px')).join(' and ')
  return `it is another place of the frame, ${where}: look whether it may be shown twice`
}

/** With the plate in its name, which that of a relay, stack or mosaic does not have. @param number of the plate, from 1 */
export function ofPlate(candidate: Candidate, number: number): Candidate {
  const { id } = candidate
  return /\.p\d+$/.test(id) ? candidate : { ...candidate, id: `${id}.p${number}` }
}

/** The best of every place among those of the region itself, best first; what was asked for by name stays. */
export function among(
  own: readonly Candidate[],
  elsewhere: readonly (readonly Candidate[])[],
  keep: number,
): Candidate[] {
  const listed = elsewhere.flatMap((some) => some.slice(0, LISTED_OF_A_PLACE))
  const all = [...own, ...listed].sort(byRank)
  const kept = new Set(all.slice(0, Math.max(keep, own.filter((c) => c.asked).length)))
  return all.filter((c) => kept.has(c) || c.asked)
}
