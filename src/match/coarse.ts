// The offset in whole pixels: exhaustive at the coarsest level of a pyramid, the best few carried down.
import { halve } from '../kernels/pyramid.js'
import type { Scratch, Workspace } from '../kernels/workspace.js'
import type { Plane } from '../raster/plane.js'
import { type Correlate, correlation } from './detail.js'
import type { Reference } from './reference.js'

/** Best offsets that are carried from level to level; repeated texture (boards, slats) needs more than one. */
const CARRIED = 3

interface Scored {
  dx: number
  dy: number
  ncc: number
}

/**
 * The offset that moves `donor` onto the reference, whole pixels; even ones where the pyramid has more than one level. See
 * `align`.
 */
export function coarse(
  workspace: Workspace,
  reference: Reference,
  donor: Plane,
  reachPx: number,
): { dx: number; dy: number } {
  return workspace.within((scratch) => search(workspace, scratch, reference, donor, reachPx))
}

function search(
  workspace: Workspace,
  scratch: Scratch,
  { levels }: Reference,
  donor: Plane,
  reachPx: number,
): { dx: number; dy: number } {
  const pyramid = [donor]
  for (let k = 1; k < levels.length; k++) {
    const { width, height } = pyramid[k - 1]
    pyramid.push(halve(workspace, pyramid[k - 1], scratch.floats((width >> 1) * (height >> 1))))
  }
  const top = levels.length - 1
  // The finest level's detail is mostly grain; the refinement finds its way from one pixel off.
  const last = Math.min(top, 1)
  const reach = Math.ceil(reachPx / 2 ** top)
  let found: Scored[] = []
  const scoresAt = (k: number, ncc: Correlate) =>
    k === top ? everywhere(reach, ncc) : closer(found, reachPx / 2 ** k, ncc)
  for (let k = top; k >= last; k--) {
    found = workspace.within((mine) => best(scoresAt(k, correlation(workspace, mine, levels[k], pyramid[k]))))
  }
  const { dx, dy } = found[0] ?? { dx: 0, dy: 0 }
  return { dx: dx * 2 ** last, dy: dy * 2 ** last }
}

function everywhere(reach: number, at: Correlate): Scored[] {
  const scored: Scored[] = []
  for (let dy = -reach; dy <= reach; dy++)
    for (let dx = -reach; dx <= reach; dx++) scored.push({ dx, dy, ncc: at(dx, dy) })
  return scored
}

/** The neighbourhoods, one level finer, of what was found. */
function closer(found: readonly Scored[], reach: number, at: Correlate): Scored[] {
  const next = new Map<string, Scored>()
  for (const { dx, dy } of found) {
    for (let y = 2 * dy - 1; y <= 2 * dy + 1; y++) {
      for (let x = 2 * dx - 1; x <= 2 * dx + 1; x++) {
        const key = `${x},${y}`
        if (Math.abs(x) > reach || Math.abs(y) > reach || next.has(key)) continue
        next.set(key, { dx: x, dy: y, ncc: at(x, y) })
      }
    }
  }
  return [...next.values()]
}

/** The best few, no two of them neighbours: one peak is carried down once. Ties go to the smaller offset. */
function best(scored: Scored[]): Scored[] {
  scored.sort((a, b) => b.ncc - a.ncc || Math.hypot(a.dx, a.dy) - Math.hypot(b.dx, b.dy))
  const kept: Scored[] = []
  for (const s of scored) {
    if (kept.some((k) => Math.abs(k.dx - s.dx) <= 1 && Math.abs(k.dy - s.dy) <= 1)) continue
    if (kept.push(s) === CARRIED) break
  }
  return kept
}
