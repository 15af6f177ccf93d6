// The dip or gleam of a curve that somebody points at, not to the frame.

/** It is looked for so many frames to either side. */
const ROUND = 6
/** A window is put round what was found in the last one so often at most. */
const MAX_WINDOWS = 8

/**
 * The frame near `at` whose light stands out most from a straight line between the ends of a window round it. A window that cuts a
 * slope leans, so it is put round what was found until that stays.
 *
 * @param known light by frame, log2
 */
export function extremeNear(known: ReadonlyMap<number, number | null>, at: number): number {
  let best = at
  for (let n = 0; n < MAX_WINDOWS; n++) {
    const next = inWindow(known, best)
    if (next === best) break
    best = next
  }
  return best
}

function inWindow(known: ReadonlyMap<number, number | null>, at: number): number {
  const near: [frame: number, light: number][] = []
  for (let f = at - ROUND; f <= at + ROUND; f++) {
    const light = known.get(f)
    if (light !== undefined && light !== null) near.push([f, light])
  }
  if (near.length < 3) return at
  const [[f0, l0], [f1, l1]] = [near[0], near[near.length - 1]]
  let best = at
  let most = 0
  for (const [f, light] of near) {
    const off = Math.abs(light - (l0 + ((l1 - l0) * (f - f0)) / (f1 - f0)))
    if (off > most) {
      most = off
      best = f
    }
  }
  return best
}
