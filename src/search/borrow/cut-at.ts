// Is a moment seen to its end, or does something come in front of it?
import { isOccluder, LIT } from '../../match/light-change.js'
import type { TileGrid } from '../../match/tiles.js'
import { keyOf } from '../../shot/frame-key.js'
import type { FrameChange, Measured } from './changes.js'
import type { FoundMoment } from './moments.js'

/** What begins and ends with less than this share of its peak begins and ends unlit. */
export const OPEN_SHARE = 0.1
/** Frames beside a moment on which something may cut it off. */
export const CUT_FRAMES = 2
/** Less of the region, or of what has changed, than this is seen where something covers the surface. */
export const MIN_SEEN = 0.5

/**
 * A moment that ends where something comes in front of the surface, or of what it has changed, is not known to its end.
 *
 * @returns the nearest frame to the peak, beside the moment, on which something does; null: none
 */
export function cutAt(
  { changes, grid }: Pick<Measured, 'changes' | 'grid'>,
  plate: number,
  { start, peak, end, course, strength }: FoundMoment,
): number | null {
  const at = (frame: number) => changes.get(keyOf({ plate, frame }))
  const covered: number[] = []
  for (const [last, step] of [
    [start, -1],
    [end, 1],
  ]) {
    const isOpen = (course.get(last) ?? 0) > OPEN_SHARE * strength
    for (let k = 1; k <= CUT_FRAMES; k++) {
      const beside = at(last + step * k)
      if (beside === undefined) continue
      const hides = isOpen && shareCovered(at(last), beside, grid) > MIN_SEEN
      if (beside.visible < MIN_SEEN || hides) covered.push(last + step * k)
    }
  }
  const near = (frame: number) => Math.abs(frame - peak)
  return covered.length === 0 ? null : covered.reduce((a, b) => (near(b) < near(a) ? b : a))
}

/** Of the tiles on which the light has changed on a frame, the share in which something stands on another, 0 to 1. */
function shareCovered(
  lit: FrameChange | undefined,
  other: FrameChange,
  { weight }: Pick<TileGrid, 'weight'>,
): number {
  let all = 0
  let covered = 0
  for (let tile = 0; tile < weight.length; tile++) {
    if (lit?.kind[tile] !== LIT) continue
    all += weight[tile]
    if (isOccluder(other.kind[tile])) covered += weight[tile]
  }
  return all > 0 ? covered / all : 0
}
