// A mask that cuts: something crosses its edge and moves with what is inside, feet below it as a rule. What lies beyond the
// edge would be left standing where the rest was replaced.

import { printFrames } from '../../footage/frames.js'
import { eachPiece } from '../../kernels/pieces.js'
import type { Workspace } from '../../kernels/workspace.js'
import { markDirty } from '../../match/clean.js'
import { INVALID } from '../../match/log-luminance.js'
import { type Rect, rectOf, unite } from '../../raster/rect.js'
import { shiftOf } from '../../raster/transform.js'
import { GUARD_PX, type Region } from '../../region/region.js'
import type { Steps } from '../../turns.js'
import type { Side } from '../mask-edges.js'
import type { Registered, Registration } from '../register.js'
import type { Cut } from '../result.js'
import { columnDistances, nearestOf, sideOf } from './beside-mask.js'
import { maskOnGrid } from './mask-on-grid.js'

/** Fewer pixels than this on either side of the edge are grain or blur, and nobody sees them left. */
const MIN_PIXELS = 12
/** Frames between two that must differ for something to move, where the range is as long: slow walkers count, too. */
const APART_FRAMES = 8
/** What moves is another picture on this much of itself, inside and outside alike. */
const MOVED_SHARE = 0.2

/** What of one connected piece lies beyond the mask. */
interface Overhang {
  readonly side: Side
  /** How far beyond the mask it reaches, pixels. */
  readonly px: number
  /** It goes on to the end of what is looked at. */
  readonly open: boolean
  /** Round it, in window coordinates. */
  readonly box: Rect
}

/**
 * @param targets in order of their frames
 * @param level   the clean plate that holds at the target, over the window
 * @param spread  what grain explains of it, stops
 * @returns a cut for each side of the mask that cuts; none where the mask fits
 */
export function* cutsOf(
  workspace: Workspace,
  { window }: Pick<Registration, 'window'>,
  region: Region,
  targets: readonly Registered[],
  level: Readonly<Float32Array>,
  spread: Readonly<Float32Array>,
): Steps<Cut[], never> {
  const { w } = window
  const found = new Map<Side, Cut>()
  // Two frames have the grain of both.
  const ofBoth = spread.map((s) => s * Math.SQRT2)
  const [differs, before, after] = [0, 1, 2].map(() => new Uint8Array(level.length))
  for (const [t, target] of targets.entries()) {
    yield
    const beside = [
      targets[Math.max(0, t - APART_FRAMES)],
      targets[Math.min(targets.length - 1, t + APART_FRAMES)],
    ]
    const others = beside.filter((other) => other !== target)
    if (others.length === 0) continue
    const { aligned, exposure } = target
    const validity = target.shown ?? target.validity
    markDirty(workspace, { aligned, validity, exposure, level, spread }, w, differs)
    leaveHolesOut(differs, validity)
    for (const [k, moved] of [before, after].entries()) {
      const other = others[Math.min(k, others.length - 1)]
      const against = {
        aligned,
        validity,
        exposure: exposure - other.exposure,
        level: other.aligned,
        spread: ofBoth,
      }
      markDirty(workspace, against, w, moved)
    }
    const mask = maskOnGrid(region.frames.get(target.frame)!.inside, target, window)
    const { dx, dy } = shiftOf(target.pose, window)
    for (const { side, px, open, box } of overhangs(workspace, differs, [before, after], mask, w)) {
      const cut = found.get(side) ?? { side, open, frames: [] }
      const { frames } = cut
      const there = { ...box, x: box.x + window.x - Math.round(dx), y: box.y + window.y - Math.round(dy) }
      const same = frames.at(-1)?.frame === target.frame ? frames.pop() : undefined
      const all = same ? unite(rectOf(same.box), there) : there
      frames.push({ frame: target.frame, px: Math.max(px, same?.px ?? 0), box: [all.x, all.y, all.w, all.h] })
      found.set(side, { side, open: cut.open || open, frames })
    }
  }
  return [...found.values()]
}

function leaveHolesOut(marks: Uint8Array, validity: Readonly<Uint8Array>): void {
  for (let i = 0; i < marks.length; i++) if (validity[i] === INVALID) marks[i] = 0
}

/** What a cut leaves standing, and what it takes not to. */
export function cutWords({ side, open, frames }: Cut): string {
  const px = Math.max(...frames.map((f) => f.px))
  const by = open ? `more than ${px}` : `${px}`
  return `on ${printFrames(frames.map((f) => f.frame))} something crosses the ${side} edge of the mask and moves with what is inside, and what lies outside is left standing: if it is to go, grow the mask by ${by} px; if it is to stay, keep it out of the mask`
}

/** The connected pieces of what differs that lie on both sides of the mask's edge and move on both. */
function overhangs(
  workspace: Workspace,
  differs: Readonly<Uint8Array>,
  moved: readonly Readonly<Uint8Array>[],
  mask: Readonly<Uint8Array>,
  width: number,
): Overhang[] {
  // What lies inside all over is most of it, and needs no distances.
  let down: Int32Array | undefined
  const out: Overhang[] = []
  eachPiece(workspace, differs, mask, width, (piece) => {
    const within = countOf(mask, piece)
    if (within < MIN_PIXELS || piece.length - within < MIN_PIXELS) return
    if (moved.some((one) => countOf(one, piece, mask) < MOVED_SHARE * within)) return
    down ??= columnDistances(mask, width)
    const found = beyondMask(piece, moved, mask, down, width)
    if (found !== null) out.push(found)
  })
  return out
}

/** How many of some pixels are marked, and of these how many within a mask. */
function countOf(
  marked: Readonly<Uint8Array>,
  pixels: Readonly<Int32Array>,
  mask: Readonly<Uint8Array> = marked,
): number {
  let count = 0
  for (let k = 0; k < pixels.length; k++) count += marked[pixels[k]] & mask[pixels[k]]
  return count
}

/** What of a piece lies beyond the mask; null where that is next to nothing, or does not move. */
function beyondMask(
  piece: Readonly<Int32Array>,
  moved: readonly Readonly<Uint8Array>[],
  mask: Readonly<Uint8Array>,
  down: Readonly<Int32Array>,
  width: number,
): Overhang | null {
  const height = mask.length / width
  let beyond = 0
  const movedBeyond = moved.map(() => 0)
  let [sumX, sumY, px, open] = [0, 0, 0, false]
  let [left, right, top, bottom] = [width, -1, height, -1]
  for (const i of piece) {
    if (mask[i] === 1) continue
    const x = i % width
    const y = (i - x) / width
    const to = nearestOf(down, width, x, y)
    const far = Math.hypot(to.dx, to.dy)
    // Next to the mask lies the blur of an edge that fits, and the width of the comparison.
    if (far <= GUARD_PX) continue
    beyond++
    for (let k = 0; k < moved.length; k++) movedBeyond[k] += moved[k][i]
    sumX += to.dx
    sumY += to.dy
    px = Math.max(px, far)
    left = Math.min(left, x)
    right = Math.max(right, x)
    top = Math.min(top, y)
    bottom = Math.max(bottom, y)
    open ||= x === 0 || y === 0 || x === width - 1 || y === height - 1
  }
  if (beyond < MIN_PIXELS || movedBeyond.some((n) => n < MOVED_SHARE * beyond)) return null
  const box = { x: left, y: top, w: right - left + 1, h: bottom - top + 1 }
  return { side: sideOf(sumX, sumY), px: Math.ceil(px), open, box }
}
