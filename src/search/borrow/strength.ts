// How strong a change is: over the frames, on which of them it peaks, and how deep it is there. Whoever walks past in
// front must not decide it.

import { LIT, STEADY } from '../../match/light-change.js'
import type { ReferenceTiles, TileGrid } from '../../match/tiles.js'
import type { FrameChange } from './changes.js'
import type { Stretch } from './stretches.js'

/** Frames whose strength is within this share of the strongest are the plateau in whose middle the peak lies. */
export const PLATEAU = 0.96
/** The deepest share of the changed tiles, whose median is the depth: the very deepest are grain's choice, or a fringe's. */
const DEEPEST_SHARE = 0.15
const MIN_DEEPEST = 3

/**
 * The strength over the stretch as it would be if nobody stood in front: a hidden tile has what it showed before and
 * shows after, in proportion of time.
 */
export function filledStrength(
  frames: readonly FrameChange[],
  strength: Readonly<Float64Array>,
  { from, to }: Stretch,
  sign: 'darker' | 'brighter',
  reference: ReferenceTiles,
  grid: TileGrid,
): Float64Array {
  const out = new Float64Array(strength.length).fill(Number.NaN)
  const side = sign === 'darker' ? -1 : 1
  for (let i = from; i <= to; i++) if (!Number.isNaN(strength[i])) out[i] = 0
  for (let tile = 0; tile < grid.weight.length; tile++) {
    const w = grid.weight[tile]
    if (w === 0) continue
    const shown = (i: number) => {
      const { kind, tiles } = frames[i]
      if (kind[tile] === STEADY) return 0
      return kind[tile] === LIT
        ? Math.max(0, side * (tiles.change[tile] - reference.change[tile]))
        : Number.NaN
    }
    let before = -1
    for (let i = from; i <= to; i++) {
      let value = shown(i)
      if (!Number.isNaN(value)) before = i
      else {
        let after = i + 1
        while (after <= to && Number.isNaN(shown(after))) after++
        const a = before >= from ? shown(before) : 0
        const b = after <= to ? shown(after) : 0
        const late =
          (frames[i].frame - frames[Math.max(before, from)].frame) /
          spanOf(frames, Math.max(before, from), Math.min(after, to))
        value = before < from ? b : after > to ? a : a + (b - a) * late
      }
      out[i] += (w * value) / grid.totalWeight
    }
  }
  return out
}

function spanOf(frames: readonly FrameChange[], a: number, b: number): number {
  return Math.max(1, frames[b].frame - frames[a].frame)
}

/** The middle of the frames about the strongest that are nearly as strong: a shadow that fills the region has a plateau. */
export function plateauMiddle(values: Readonly<Float64Array>, from: number, to: number): number {
  const at = (i: number) => (i < from || i > to || Number.isNaN(values[i]) ? Number.NaN : values[i])
  const smooth = (i: number) => {
    // What is hidden has no say; the weights of the rest make up for it.
    let sum = 0
    let all = 0
    for (let k = -1; k <= 1; k++) {
      const v = at(i + k)
      if (Number.isNaN(v)) continue
      const w = k === 0 ? 2 : 1
      sum += w * v
      all += w
    }
    return all > 0 ? sum / all : Number.NEGATIVE_INFINITY
  }
  let best = from
  for (let i = from; i <= to; i++) if (smooth(i) > smooth(best)) best = i
  const least = PLATEAU * smooth(best)
  let a = best
  let b = best
  while (a > from && smooth(a - 1) >= least) a--
  while (b < to && smooth(b + 1) >= least) b++
  let middle = (a + b) >> 1
  // The peak is shown and measured, so it must be a frame that shows something.
  for (let k = 0; Number.isNaN(values[middle]) && k <= to - from; k++) {
    if (!Number.isNaN(at(middle - k))) middle -= k
    else if (!Number.isNaN(at(middle + k))) middle += k
  }
  return middle
}

/**
 * Depth and coverage of one frame over the tiles of some kinds.
 *
 * @param level change per tile that counts as none; absent: the reference state's of the whole plate
 */
export function depthOf(
  f: FrameChange,
  reference: ReferenceTiles,
  grid: TileGrid,
  counts: (kind: number) => boolean,
  sign: 'darker' | 'brighter',
  level: Readonly<Float32Array> = reference.change,
): { depth: number; coverage: number } {
  const depths: number[] = []
  let changed = 0
  let seen = 0
  for (let tile = 0; tile < f.kind.length; tile++) {
    const w = grid.weight[tile]
    if (w === 0) continue
    const kind = f.kind[tile]
    if (kind === STEADY || counts(kind)) seen += w
    if (!counts(kind)) continue
    const change = f.tiles.change[tile] - level[tile]
    if (change < 0 !== (sign === 'darker')) continue
    depths.push(Math.abs(change))
    changed += w
  }
  if (depths.length === 0) return { depth: 0, coverage: 0 }
  depths.sort((a, b) => b - a)
  const deepest = Math.min(depths.length, Math.max(MIN_DEEPEST, Math.round(DEEPEST_SHARE * depths.length)))
  return { depth: depths[(deepest - 1) >> 1], coverage: changed / Math.max(seen, 1e-9) }
}
