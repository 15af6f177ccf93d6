// The donors of a patch as an edit has them: stretches that play on, play backwards or stand still, and gaps.
import type { Patch } from './patch.js'

/** Consecutive target frames whose donors come from one plate at one speed. */
export interface Stretch {
  /** The first target frame, and how many. */
  readonly target: number
  readonly frames: number
  /** Index into the patch's donors; null where nothing is lent. */
  readonly plate: number | null
  /** The donor of the first target frame. */
  readonly donor: number
  /** Donor frames per target frame: 1 plays on, -1 backwards, 0 holds. */
  readonly speed: 1 | 0 | -1
}

/**
 * Stretches that cover every frame from the first target frame to the last, in order. Of a frame with several donors it is
 * the one with the largest share.
 */
export function retimeOf({ target: { first, last }, frames }: Pick<Patch, 'target' | 'frames'>): Stretch[] {
  const lent = new Map(frames.map((f) => [f.target, f.lent[0]]))
  const stretches: Stretch[] = []
  for (let target = first; target <= last; target++) {
    const share = lent.get(target)
    const next: Stretch =
      share === undefined
        ? { target, frames: 1, plate: null, donor: target, speed: 1 }
        : { target, frames: 1, plate: share.plate, donor: share.frame, speed: 1 }
    const before = stretches.at(-1)
    const joined = before === undefined ? null : join(before, next)
    if (joined === null) stretches.push(next)
    else stretches[stretches.length - 1] = joined
  }
  return stretches
}

/** Frames of a dissolve, before the change from one stretch to the next and from it on. */
export interface Dissolve {
  readonly before: number
  readonly after: number
}

/** How a relay goes from one stretch to the next that follows it; null: by a cut. */
export function dissolveInto(
  { candidate, frames }: Pick<Patch, 'candidate' | 'frames'>,
  one: Stretch,
  next: Stretch,
): Dissolve | null {
  if (candidate.kind !== 'relay' || one.plate === null || next.plate === null) return null
  const lent = new Map(frames.map((f) => [f.target, f.lent]))
  const has = (target: number, plate: number | null, frame: number) => {
    const shares = lent.get(target) ?? []
    return shares.length > 1 && shares.some((s) => s.plate === plate && s.frame === frame)
  }
  let [before, after] = [0, 0]
  const last = one.donor + (one.frames - 1) * one.speed
  while (before < one.frames && has(next.target - before - 1, next.plate, next.donor)) before++
  while (after < next.frames && has(next.target + after, one.plate, last)) after++
  return before + after > 0 ? { before, after } : null
}

/** Null where the next frame goes another way; the second frame of a stretch gives it its speed. */
function join(before: Stretch, next: Stretch): Stretch | null {
  if (before.plate !== next.plate) return null
  const frames = before.frames + 1
  if (next.plate === null) return { ...before, frames }
  const speed = before.frames === 1 ? next.donor - before.donor : before.speed
  if (speed !== 1 && speed !== 0 && speed !== -1) return null
  if (next.donor !== before.donor + before.frames * speed) return null
  return { ...before, frames, speed }
}
