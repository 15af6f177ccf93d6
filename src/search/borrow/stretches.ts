// Stretches of frames on which something is there, by two thresholds (J. Canny, A Computational Approach to Edge
// Detection, 1986, for the hysteresis): it must rise well above grain to count, and lasts until it is nearly gone.

/** A stretch ends where it has fallen to this share of its peak: a long faint tail belongs to nothing. */
const TAIL_SHARE = 0.04
/** Two tops are two stretches where between them it falls below this share of the lower one, for longer than a slat lasts. */
const VALLEY_SHARE = 0.25
/** Frames without change that do not end a moment: grain, or a slat between two parts of one shadow. */
const BRIDGED_FRAMES = 2
/** Frames on which nothing is visible do not end it either, up to so many: somebody walks past in front. */
const HIDDEN_FRAMES = 8

/** Indices into the frames, both ends included. */
export interface Stretch {
  readonly from: number
  readonly to: number
}

/**
 * Hysteresis: round each value that rises above `on`, strongest first, all frames whose value is above `off` and above
 * a share of that strongest one.
 */
export function stretches(
  frames: readonly { readonly frame: number }[],
  values: Readonly<Float64Array>,
  on: number,
  off: number,
): Stretch[] {
  const found: Stretch[] = []
  const open: Stretch[] = values.length > 0 ? [{ from: 0, to: values.length - 1 }] : []
  for (let part = open.pop(); part !== undefined; part = open.pop()) {
    let top = -1
    for (let i = part.from; i <= part.to; i++)
      if (values[i] >= on && (top < 0 || values[i] > values[top])) top = i
    if (top < 0) continue
    const before = outward(frames, values, top, part.from, -1, { on, off })
    const after = outward(frames, values, top, part.to, 1, { on, off })
    found.push({ from: before.end, to: after.end })
    if (before.tail > part.from) open.push({ from: part.from, to: before.tail - 1 })
    if (after.tail < part.to) open.push({ from: after.tail + 1, to: part.to })
  }
  return found.sort((a, b) => a.from - b.from)
}

/** Where a stretch ends in one direction, and where its tail does: what is left of it there is no stretch of its own. */
function outward(
  frames: readonly { readonly frame: number }[],
  values: Readonly<Float64Array>,
  top: number,
  limit: number,
  step: -1 | 1,
  { on, off }: { on: number; off: number },
): { end: number; tail: number } {
  const least = Math.max(off, TAIL_SHARE * values[top])
  const end = valley(values, top, reach(frames, values, top, limit, step, least), step, on)
  // Only a stretch that fades away has a tail: beyond a valley another one begins.
  const tail = valley(values, top, reach(frames, values, top, limit, step, off), step, on)
  return { end, tail: step * (tail - end) > 0 ? tail : end }
}

/** How far the change goes on from its top in one direction. */
function reach(
  frames: readonly { readonly frame: number }[],
  values: Readonly<Float64Array>,
  top: number,
  end: number,
  step: -1 | 1,
  least: number,
): number {
  let last = top
  let seen = 0
  for (let i = top + step; step * (end - i) >= 0; i += step) {
    if (values[i] > least) {
      const gap = Math.abs(frames[i].frame - frames[last].frame) - 1
      if (gap > (seen > 0 ? BRIDGED_FRAMES : HIDDEN_FRAMES)) break
      last = i
      seen = 0
    } else if (!Number.isNaN(values[i]) && ++seen > BRIDGED_FRAMES) break
  }
  return last
}

/** The lowest place of the first valley from the top on, beyond which another top lies; without one, the end. */
function valley(values: Readonly<Float64Array>, top: number, end: number, step: -1 | 1, on: number): number {
  const outer = new Map<number, number>()
  for (let i = end, most = 0; i !== top; i -= step) {
    if (values[i] > most) most = values[i]
    outer.set(i, most)
  }
  let low = 0
  let lowest = top
  for (let i = top + step; step * (end - i) >= 0; i += step) {
    if (Number.isNaN(values[i])) continue
    const beyond = outer.get(i)!
    if (beyond < on || values[i] >= VALLEY_SHARE * beyond) {
      if (low > BRIDGED_FRAMES) return lowest
      low = 0
    } else {
      if (low === 0 || values[i] < values[lowest]) lowest = i
      low++
    }
  }
  return end
}
