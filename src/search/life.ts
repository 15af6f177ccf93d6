// What moves by itself beside the region: leaves, water. A donor that is held over the range would freeze it.

import { boxMean } from '../kernels/box.js'
import { addLife } from '../kernels/life.js'
import type { Workspace } from '../kernels/workspace.js'
import type { Rect } from '../raster/rect.js'
import type { Steps } from '../turns.js'
import { EvenGrain } from './even-grain.js'
import type { Registered } from './register.js'

/** Neighbouring frames that are compared: enough for a mean, spread over the plate. */
const LIFE_PAIRS = 24
/** Radius in pixels of the mean that detail stands out from. */
const DETAIL_RADIUS = 4
/** From so much on it is asked whether it is soft grain: less is no fault. */
const ASKED_FROM = 0.2

interface FramePair {
  readonly a: Registered
  readonly b: Registered
}

/**
 * How much of the surround's detail is another one in the next frame: the change from frame to frame beyond grain, over
 * the detail's own strength. 0 where all stands still, near 1 where leaves or water are never the same twice.
 *
 * @param frames in order
 * @param grain  noise of one frame, stops
 * @returns null where no two neighbours share a pixel
 */
export function* lifeOf(
  workspace: Workspace,
  frames: readonly Registered[],
  steady: ReadonlyMap<Registered, Uint8Array>,
  surround: Readonly<Int32Array>,
  window: Rect,
  grain: number,
): Steps<number | null> {
  const pairs = frames.flatMap((b, i) => {
    const a = frames[i - 1]
    const next = a !== undefined && a.plate === b.plate && a.frame + 1 === b.frame
    return next && steady.has(a) && steady.has(b) ? [{ a, b }] : []
  })
  const stride = Math.max(1, Math.floor(pairs.length / LIFE_PAIRS))
  const some = pairs.filter((_, k) => k % stride === 0)
  const sums = new Float64Array(5)
  for (const { a, b } of some) {
    yield
    const light = boxMean(workspace, a.aligned, window.w, DETAIL_RADIUS)
    const from = { ...a, steady: steady.get(a)! }
    const to = { ...b, steady: steady.get(b)! }
    addLife(workspace, surround, from, to, light, window.w, sums)
  }
  const [change, detail, n, banded, white] = sums
  if (n === 0 || detail === 0) return null
  // Two pictures differ by both their grains, and by twice the square of a detail that is another one altogether.
  const beyond = (grains: number) => Math.sqrt(Math.max(0, change / n - grains) / 2 / (detail / n))
  // Dark places are far grainier in stops than most, and a median knows nothing of them: what is white in the change does, told
  // as a share, as the darkest lack where the far ends of their grain are taken for somebody.
  const whiteShare = banded > 0 ? white / banded : 0
  const grains = Math.max(2 * grain * grain, (whiteShare * change) / n)
  if (beyond(grains) < ASKED_FROM) return beyond(grains)
  const even = yield* evenShare(some, steady, surround, window)
  return beyond(Math.max(grains, (even * change) / n))
}

/** Share of the change on the surround that is soft grain, 0 to 1. */
function* evenShare(
  pairs: readonly FramePair[],
  steady: ReadonlyMap<Registered, Uint8Array>,
  surround: Readonly<Int32Array>,
  { w, h }: Rect,
): Steps<number> {
  const even = new EvenGrain(w, h)
  const change = new Float32Array(w * h)
  for (const { a, b } of pairs) {
    yield
    change.fill(Number.NaN)
    takeChange(change, surround, a, b, steady.get(a)!, steady.get(b)!)
    even.add(change, a.aligned)
  }
  return even.share()
}

/** A function of its own, over arrays alone: a short loop is compiled soon. */
function takeChange(
  change: Float32Array,
  places: Readonly<Int32Array>,
  a: Registered,
  b: Registered,
  steadyA: Readonly<Uint8Array>,
  steadyB: Readonly<Uint8Array>,
): void {
  const [from, to] = [a.aligned, b.aligned]
  const light = b.exposure - a.exposure
  for (let k = 0; k < places.length; k++) {
    const i = places[k]
    if (steadyA[i] === 1 && steadyB[i] === 1) change[i] = to[i] - from[i] + light
  }
}
