// The frames that show a surface without a moment's change: its reference state, near enough in time to be in the same light.
import { changedFrom } from '../../match/light-change.js'
import type { FrameChange, Measured } from './changes.js'
import type { FoundMoment } from './moments.js'

/** Unlit frames whose mean a moment is compared with: their grain is a quarter of the moment's own. */
const UNLIT_FRAMES = 16
/** A frame is unlit when next to nothing is covered, and so much of the region has not changed ... */
const UNLIT_SHOWN = 0.98
/**
 * ... by more than grain shows, or than this share of the moment's depth: somebody who stands beside the surface before
 * and after takes a little light from it all the while, and that is no part of the moment.
 */
const UNLIT_SHARE = 0.1
/** Where the region is never unlit: so many frames on which least changes. */
const MIN_CHANGED_FRAMES = 5

/** The unlit frames nearest to a moment, in order; where the region is never unlit, those on which least changes. */
export function unlitFrames(measured: Measured, plate: number, found: FoundMoment): FrameChange[] {
  const all = [...measured.changes]
    .filter(([key, f]) => key.startsWith(`${plate}:`) && (f.frame < found.start || f.frame > found.end))
    .map(([, f]) => f)
  const near = (f: FrameChange) => Math.abs(f.frame - found.peak)
  const unlit = all
    .filter((f) => f.visible >= UNLIT_SHOWN && isStill(f, measured, UNLIT_SHARE * found.depthStops))
    .sort((a, b) => near(a) - near(b) || a.frame - b.frame)
  const changed = (f: FrameChange) => 1 - f.visible + f.darker + f.brighter
  const least =
    unlit.length > 0 ? unlit : all.sort((a, b) => changed(a) - changed(b)).slice(0, MIN_CHANGED_FRAMES)
  const half = UNLIT_FRAMES / 2
  const before = least.filter((f) => f.frame < found.start).slice(0, half)
  const after = least.filter((f) => f.frame > found.end).slice(0, half)
  // Half of them from either side, as the light drifts; where one side has too few, more of the other.
  const both = [...before, ...after]
  const more = least.filter((q) => !both.includes(q)).slice(0, UNLIT_FRAMES - both.length)
  return [...both, ...more].sort((a, b) => a.frame - b.frame)
}

function isStill(f: FrameChange, { grid, reference }: Measured, most: number): boolean {
  let still = 0
  for (let tile = 0; tile < f.kind.length; tile++) {
    if (f.tiles.pixels[tile] === 0) continue
    const change = Math.abs(f.tiles.change[tile] - reference.change[tile])
    if (change <= Math.max(most, changedFrom(reference, tile))) still += grid.weight[tile]
  }
  return still > UNLIT_SHOWN * grid.totalWeight
}

/** Unlit frames on either side of a moment: between them light that drifts is told at any frame of it. */
export interface AroundPeak<F> {
  /** Where one side has none, those of the other. */
  readonly before: readonly F[]
  readonly after: readonly F[]
  /** How much of the way from the one side's time to the other's a frame lies, 0 to 1. */
  readonly late: (frame: number) => number
}

export function aroundPeak<F extends { readonly frame: number }>(
  unlit: readonly F[],
  peak: number,
): AroundPeak<F> {
  const [early, later] = [unlit.filter((q) => q.frame < peak), unlit.filter((q) => q.frame > peak)]
  const before = early.length > 0 ? early : unlit
  const after = later.length > 0 ? later : unlit
  const mean = (frames: readonly F[]) => frames.reduce((sum, q) => sum + q.frame, 0) / frames.length
  const [from, to] = [mean(before), mean(after)]
  return {
    before,
    after,
    late: (frame) => (to > from ? Math.min(1, Math.max(0, (frame - from) / (to - from))) : 0),
  }
}
