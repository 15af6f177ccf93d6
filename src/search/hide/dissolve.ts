// Where a relay's donor hands over to the next: a dissolve over frames that both can fill, so that what sets them apart comes in
// little by little. Where no frame has both, it is a cut.
import type { Share } from './stack-shares.js'

/** Half of a dissolve, in frames: so many of the one's before the change and as many of the next one's after it. */
const HALF_FRAMES = 4

/**
 * @param path    the donor (column) of each target frame
 * @param follows whether a target frame is the one after that before it
 * @param serves  whether a donor may lend to a target frame as well as the path's own there
 * @returns the shares of each target frame, two at most, the path's own first
 */
export function dissolved(
  path: readonly number[],
  follows: (target: number) => boolean,
  serves: (target: number, column: number) => boolean,
): Share[][] {
  const shares: Share[][] = path.map((column) => [{ column, weight: 1 }])
  const changes = path.flatMap((column, t) => (t > 0 && column !== path[t - 1] ? [t] : []))
  for (const [k, change] of changes.entries()) {
    if (!follows(change)) continue
    const [from, to] = [path[change - 1]!, path[change]!]
    // Of a stretch between two changes each has a half: nobody dissolves into two at once.
    const before = k === 0 ? change : (change - changes[k - 1]!) >> 1
    const after = k === changes.length - 1 ? path.length - change : (changes[k + 1]! - change + 1) >> 1
    let [first, end] = [change, change]
    while (change - first < Math.min(HALF_FRAMES, before) && serves(first - 1, to)) first--
    while (end - change < Math.min(HALF_FRAMES, after) && serves(end, from)) end++
    for (let t = first; t < end; t++) {
      const weight = (t - first + 1) / (end - first + 1)
      const [own, other] = t < change ? [1 - weight, to] : [weight, from]
      shares[t] = [
        { column: path[t]!, weight: own },
        { column: other, weight: 1 - own },
      ]
    }
  }
  return shares
}
