// A moment as the result holds it: how deep it is against the light of its own time, its course for a plot, its colour, and
// the reference state that lifting it divides by.
import { BESIDE, COVERED, LIT } from '../../match/light-change.js'
import { keyOf } from '../../shot/frame-key.js'
import { round, roundedOffset } from '../over-frames.js'
import { offsetBetween, type Registered } from '../register.js'
import type { Moment } from '../result.js'
import { gainBetween, type Measured } from './changes.js'
import type { EdgeStep } from './edge-step.js'
import type { FoundMoment } from './moments.js'
import { depthOf } from './strength.js'
import { changeColour, type TileSource } from './tile-light.js'
import { aroundPeak } from './unlit-frames.js'

/** Frames beyond the moment and the run whose depth is told: what a plot needs to show that nothing changes there. */
const PLOT_MARGIN = 12

/**
 * @param search     with the range's target frames, ascending
 * @param peakFrame  of the moment's plate
 * @param unlit      the moment's unlit frames in order, and the mean of their light per tile and channel
 */
export function momentEntry(
  search: TileSource & { readonly measured: Measured; readonly frames: readonly number[] },
  found: FoundMoment,
  peakFrame: Registered,
  timeOffset: number,
  {
    unlit,
    before,
    likeness,
    step,
  }: {
    readonly unlit: readonly Registered[]
    readonly before: Readonly<Float64Array>
    readonly likeness: number | null
    readonly step: EdgeStep | null
  },
): Moment {
  const { measured, frames } = search
  const { plate } = peakFrame
  const peakChange = measured.changes.get(keyOf(peakFrame))!
  const counts = (kind: number) =>
    found.what === 'light' ? kind === LIT : kind === COVERED || kind === BESIDE
  const near = levelNear(measured, unlit, found.peak)
  const { depth, coverage } = depthOf(peakChange, measured.reference, measured.grid, counts, found.sign, near)
  const from = Math.min(found.start, frames[0] + timeOffset) - PLOT_MARGIN
  const to = Math.max(found.end, frames[frames.length - 1] + timeOffset) + PLOT_MARGIN
  return {
    donor: plate,
    start: found.start,
    peak: found.peak,
    end: found.end,
    what: found.what,
    sign: found.sign,
    depthStops: round(depth, 4),
    coverage: round(coverage, 4),
    surface: found.surface === null ? null : round(found.surface, 4),
    colour: changeColour(search, peakChange, peakFrame, before, found.sign),
    ...(likeness === null ? {} : { likeness }),
    ...(step === null ? {} : { edgeStep: round(step.stops, 4) }),
    depths: depthsOf(measured, plate, found, from, to),
    quiet: unlit.map((q) => q.frame),
    quietState: unlit.map((q) => ({
      plate,
      frame: q.frame,
      ...roundedOffset(offsetBetween(peakFrame, q, search.region.window)),
      gain: gainBetween(measured, q, peakFrame),
      weight: 1 / unlit.length,
    })),
  }
}

/** Mean change over the region per frame, stops with their sign, in order. */
function depthsOf(
  { changes }: Measured,
  plate: number,
  found: FoundMoment,
  from: number,
  to: number,
): Moment['depths'] {
  const side = found.sign === 'darker' ? -1 : 1
  const within = (frame: number) => frame >= found.start && frame <= found.end
  return [...changes]
    .filter(([key, f]) => key.startsWith(`${plate}:`) && f.frame >= from && f.frame <= to)
    .flatMap(([, f]) => {
      // Within the moment it is told as it would be if nobody stood in front.
      const stops = within(f.frame) ? found.course.get(f.frame) : f[found.sign]
      return stops === undefined ? [] : [{ frame: f.frame, stops: round(side * stops, 4) }]
    })
    .sort((a, b) => a.frame - b.frame)
}

/** What counts as no change at a frame: between the unlit frames before it and those after, as the light drifts. */
function levelNear(
  { changes, grid, reference }: Measured,
  unlit: readonly Registered[],
  frame: number,
): Readonly<Float32Array> {
  if (unlit.length === 0) return reference.change
  const { before, after, late } = aroundPeak(unlit, frame)
  const mean = (frames: readonly Registered[]) => {
    const tiles = frames.map((q) => changes.get(keyOf(q))!.tiles)
    return (tile: number) => tiles.reduce((sum, c) => sum + c.change[tile], 0) / tiles.length
  }
  const [early, later, share] = [mean(before), mean(after), late(frame)]
  const level = new Float32Array(grid.weight.length)
  for (let tile = 0; tile < level.length; tile++) {
    if (grid.weight[tile] > 0) level[tile] = (1 - share) * early(tile) + share * later(tile)
  }
  return level
}
