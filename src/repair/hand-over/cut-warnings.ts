// What crosses the mask's edge stays in the plate whatever is laid over it: the search's warning is the patch's, too.
import { cutWords } from '../../search/hide/cut-mask.js'
import type { Candidate, Result } from '../../search/result.js'

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
