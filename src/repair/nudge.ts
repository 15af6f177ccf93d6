// A donor moved by hand: what alignment found is a measurement, and the artist has the last word on it.
import { misuse, option } from '../errors.js'
import type { Plate } from '../footage/plate.js'
import { CUBIC, shiftPower } from '../raster/filters.js'
import { compose, type Offset, type Placement, shift } from '../raster/transform.js'
import type { Candidate } from '../search/result.js'

/**
 * The candidate with its donors moved by so much more on every target frame, all shares of a stack and pieces of a mosaic with them.
 *
 * @param by pixels of the plate, x to the right and y down, each at most half of the plate's shorter side
 * @throws MISUSE where that is no such offset, or the candidate borrows light
 */
export function nudged(candidate: Candidate, by: Offset, target: Plate): Candidate {
  checkNudge(candidate, by, target)
  const { dx, dy } = by
  // On the target, after whatever else is done to the donor.
  const moved = <T extends Placement>(at: T): T => ({
    ...at,
    dx: at.dx + dx,
    dy: at.dy + dy,
    ...(at.transform === undefined ? {} : { transform: compose(shift(dx, dy), at.transform) }),
  })
  const frames = candidate.frames.map((match) => ({
    ...moved(match),
    ...(match.stack === undefined ? {} : { stack: match.stack.map(moved) }),
    // Seams stay where they are: who is moved is the picture behind them.
    ...(match.pieces === undefined ? {} : { pieces: match.pieces.map(moved) }),
  }))
  return { ...candidate, frames, grain: grainAfter(candidate, moved) }
}

/** @throws MISUSE as nudged, by what is known of a candidate before it is found */
export function checkNudge(
  { id, moment }: Pick<Candidate, 'id' | 'moment'>,
  { dx, dy }: Offset,
  target: Plate,
): void {
  const most = Math.floor(Math.min(target.width, target.height) / 2)
  if (!(Math.abs(dx) <= most && Math.abs(dy) <= most)) {
    const range = `dx,dy in pixels, each from -${most} to ${most} on this plate of ${target.width} x ${target.height}`
    throw misuse(option('nudge'), range, `${dx},${dy}`)
  }
  if (moment !== undefined) {
    throw misuse(option('nudge'), 'a candidate that hides; search a borrow again with its own offset', id)
  }
}

/**
 * Resampled by another fraction of a pixel a donor keeps another share of its noise. One that turns or grows has pixels at
 * all fractions, before and after.
 */
function grainAfter({ grain, frames }: Candidate, moved: (at: Offset) => Offset): number | null {
  if (grain === null) return null
  const kept = ({ dx, dy }: Offset) => Math.sqrt(shiftPower(dx, dy, CUBIC))
  const change = frames.reduce(
    (sum, match) => sum + (match.transform === undefined ? kept(moved(match)) / kept(match) : 1),
    0,
  )
  return grain * (change / frames.length)
}
