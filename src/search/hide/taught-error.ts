// What lessons teach of the error inside a region. The prior is a sum of what is known of a pair; what the plate has to say
// against it is learnt as trees that can only rise where the prior does.

import type { Workspace } from '../../kernels/workspace.js'
import { BoostedTrees, type TreesSetup } from '../../match/boosted-trees.js'
import { bestOf, DIFFERENCES, FEATURES, RISING, type TargetRow } from './pair-features.js'
import type { Stack } from './stack-shares.js'

/** A pretended target: what was known of its pairs, and what its region then really differed by. */
export interface Lesson {
  /** What is known of its donors: of the target first, then of other frames of its range. */
  readonly rows: readonly Pick<TargetRow, 'features' | 'best'>[]
  /** The first so many donors are spread evenly over the plate. */
  readonly even: number
  /** Per donor, log of the mean square error inside, display code values squared. */
  readonly errors: Float64Array
  /** Where the plate changes from frame to frame: per frame of its range, what donors differ by on that alone; elsewhere none. */
  readonly each: readonly Float64Array[]
  /** ... and donors that move along with the target. */
  readonly runs: readonly Run[]
  /** How far its region before it lies from the one after it, mean square; null: one is not seen, or the real target lies between. */
  readonly apart: number | null
  /** What means of its donors come to. */
  readonly stacked: Stacked
}

/** Donors that may be averaged, by their places, and the log of a mean's squared error over the range. */
interface Stacked {
  readonly able: readonly number[]
  readonly error: (shares: Stack['shares']) => number
}

/** One of them: the places of its donors among the others, one for each of `rows`, and its error as that of those. */
export interface Run {
  /** In frames; positive: its donors lie later. */
  readonly timeOffset: number
  readonly places: readonly number[]
  readonly error: number
}

/**
 * Share of each number of a pair in the log of its squared error, relative to the target's best: least squares with no
 * share below 0 on pretended targets of two locked-off plates of real footage. By either plate's shares alone, the first
 * donor on the other loses 0.4 dB at the median; with the plate's own lessons on top, nothing.
 */
const PRIOR = [0.6, 0.4, 0.15, 0.7, 0.15, 0.1, 0.02, 1.3, 0]
/** The log of the best donors' squared error over that of their difference from the blend. */
const PRIOR_LEVEL = 0.55
const RELATIVE: TreesSetup = { rising: RISING, trees: 60, depth: 3, rate: 0.12, minLeaf: 30 }
const LEVEL: TreesSetup = {
  rising: new Array<1>(DIFFERENCES).fill(1),
  trees: 24,
  depth: 2,
  rate: 0.15,
  minLeaf: 6,
}
export class Fitted {
  constructor(
    readonly relative: BoostedTrees | null,
    readonly level: BoostedTrees | null,
  ) {}

  /** Log of the expected mean square error of a target's best donors. */
  levelOf(best: Readonly<Float32Array>): number {
    return priorLevel(best) + (this.level?.predict(best)[0] ?? 0)
  }

  /** Expected mean square error of each donor of a target, display code values squared. */
  meanSquares({ features, best }: Pick<TargetRow, 'features' | 'best'>): Float64Array {
    const level = this.levelOf(best)
    const relative = this.relative?.predict(features) ?? new Float64Array(features.length / FEATURES)
    return relative.map((more, k) => Math.exp(level + (prior(features, k * FEATURES) + more)))
  }
}

function prior(features: Readonly<Float32Array>, at: number): number {
  let sum = 0
  for (let f = 0; f < FEATURES; f++) sum += PRIOR[f] * features[at + f]
  return sum
}

function priorLevel(best: Readonly<Float32Array>): number {
  return 2 * best[4] + PRIOR_LEVEL
}

/** What a lesson teaches: of a frame, what is known of its donors, and what they then differ by. */
function taughtOf({ rows, errors, each, even }: Lesson) {
  const known =
    each.length > 0 ? rows.map((row, r) => ({ row, own: each[r] })) : [{ row: rows[0], own: errors }]
  return known.map(({ row, own }) => ({ row, own, level: bestOf(own.slice(0, even)) }))
}

/** What a plate's lessons have to say against the prior. */
export function taughtBy(workspace: Workspace, lessons: readonly Lesson[]): Fitted {
  const taught = lessons.flatMap(taughtOf)
  const n = taught.reduce((sum, t) => sum + t.own.length, 0)
  const features = new Float32Array(n * FEATURES)
  const left = new Float64Array(n)
  const bests = new Float32Array(taught.length * DIFFERENCES)
  const leftLevel = new Float64Array(taught.length)
  let at = 0
  for (const [t, { row, own, level }] of taught.entries()) {
    features.set(row.features, at * FEATURES)
    for (let k = 0; k < own.length; k++, at++) left[at] = own[k] - level - prior(row.features, k * FEATURES)
    bests.set(row.best, t * DIFFERENCES)
    leftLevel[t] = level - priorLevel(row.best)
  }
  return new Fitted(
    new BoostedTrees(workspace, features, left, RELATIVE),
    new BoostedTrees(workspace, bests, leftLevel, LEVEL),
  )
}
