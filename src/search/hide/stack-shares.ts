// How much of each donor goes into a stack, and what that is expected to differ by: of a search's donors, and of those of a
// pretended target, whose stack tells how far behind the best one such a mean really lies.

/** The worst frame of a candidate counts this much beside the mean: a patch is rejected for its worst frame. */
const WORST_SHARE = 0.25
/** Most donors in a stack: past that the grain's share of the error is gone and only drift is added. */
const STACK_DONORS = 16
const MIN_STACK = 3
const STACK_POWER = 4
/** Donors that fit to the last bit (a flat, noiseless plate) weigh the same, not infinitely. */
const MIN_COST = 1e-3
/** Share of a donor's squared error that its neighbours share: on planted truth a stack gains a quarter of a decibel. */
const STACK_COMMON = 0.68

export interface Share {
  readonly column: number
  /** 0 to 1; those of a frame add up to 1. */
  readonly weight: number
}

export interface Stack {
  /** One row per target frame. */
  readonly shares: readonly (readonly Share[])[]
  /** Expected squared error over the range, in units of the costs. */
  readonly cost: number
  /** What its donors have of that in the mean, each by its share, if nothing averaged out. */
  readonly donorsCost: number
}

/**
 * The mean of the best donors, each weighted by the inverse of its expected error to the fourth power of squares: near donors
 * carry the picture, the others take the grain out of it.
 *
 * @param columns donors that may be averaged
 * @param frames  how many there are to be filled
 * @param cost    expected squared error of a donor on a frame, in units of the best donor's; Infinity where it lends nothing
 * @returns null where they are too few
 */
export function stackOf(
  columns: readonly number[],
  frames: number,
  cost: (frame: number, column: number) => number,
): Stack | null {
  const all = Array.from({ length: frames }, (_, t) => t)
  const able = columns
    .map((column) => ({ column, cost: overRange(all.map((t) => cost(t, column))).cost }))
    .filter((one) => Number.isFinite(one.cost))
    .sort((a, b) => a.cost - b.cost)
    .slice(0, STACK_DONORS)
  if (able.length < MIN_STACK) return null
  const shares = all.map((t) => {
    // Half for the whole range, half for this frame: the near donors lead, and no share jumps from frame to frame.
    const costs = able.map((one) => Math.max((one.cost + cost(t, one.column)) / 2, MIN_COST))
    const raw = costs.map((c) => c ** -STACK_POWER)
    const total = raw.reduce((a, b) => a + b, 0)
    return able.map(({ column }, i) => ({ column, weight: raw[i] / total }))
  })
  let sum = 0
  let ofDonors = 0
  for (const [t, row] of shares.entries()) {
    const { cost: of, donorsCost } = costOfMean(row, (column) => cost(t, column))
    sum += of / frames
    ofDonors += donorsCost / frames
  }
  return { shares, cost: sum, donorsCost: ofDonors }
}

/** Of one frame, as `Stack` has it of all. */
export function costOfMean(
  row: readonly Share[],
  cost: (column: number) => number,
): Pick<Stack, 'cost' | 'donorsCost'> {
  // Errors that the donors have in common stay; the rest averages out.
  const alone = row.reduce((all, { weight }) => all + weight * weight, 0)
  const donorsCost = row.reduce((all, { column, weight }) => all + weight * cost(column), 0)
  return { cost: donorsCost * (STACK_COMMON + (1 - STACK_COMMON) * alone), donorsCost }
}

/** What costs per frame come to over a range: with the worst frame weighing more, and the mean of all. */
export function overRange(costs: readonly number[]): { cost: number; mean: number } {
  let sum = 0
  let worst = 0
  for (const cost of costs) {
    sum += cost
    worst = Math.max(worst, cost)
  }
  const mean = sum / costs.length
  return { cost: (1 - WORST_SHARE) * mean + WORST_SHARE * worst, mean }
}
