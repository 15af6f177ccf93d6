// What the mask's edge cuts: whoever crosses it stays in the plate whatever is laid over it, and light that does ends there.
import { framesInWords } from '../../footage/frames.js'
import { cutWords } from '../../search/hide/cut-mask.js'
import { edgesInWords, SIDES, type Side } from '../../search/mask-edges.js'
import type { Candidate, Moment, Result } from '../../search/result.js'

/** A sentence per side of the mask on which something is cut off, with those of its frames that the candidate fills. */
export function cutWarnings(
  { cuts = [] }: Pick<Result, 'cuts'>,
  { frames }: Pick<Candidate, 'frames'>,
): string[] {
  const filled = new Set(frames.map(({ target }) => target))
  return cuts.flatMap((cut) => {
    const left = cut.frames.filter(({ frame }) => filled.has(frame))
    return left.length > 0 ? [cutWords({ ...cut, frames: left })] : []
  })
}

/**
 * One sentence of a lift that ends with a step.
 *
 * @param cut by frame, the step on each side in stops
 * @param what it is that is lifted: no light where something covers the surface
 */
export function cutLightWarnings(
  cut: ReadonlyMap<number, ReadonlyMap<Side, number>>,
  what: Moment['what'] = 'light',
): string[] {
  if (cut.size === 0) return []
  const on = `on ${framesInWords([...cut.keys()].sort((a, b) => a - b))}`
  const sides = SIDES.filter((side) => [...cut.values()].some((of) => of.has(side)))
  const most = Math.max(...[...cut.values()].flatMap((of) => [...of.values()]))
  const lifted = what === 'light' ? 'the change of light' : 'what covers the surface, which is no light,'
  return [
    `${on} ${lifted} runs on across the mask's ${edgesInWords(sides)} and ends there, at up to ${most.toFixed(2)} stops: search again with a larger mask, or that edge may show`,
  ]
}
