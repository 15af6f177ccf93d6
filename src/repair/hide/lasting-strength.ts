// How much of what lasts in a row of donors a stack is given, for its detail to be as strong as that of the frames nearest to the
// targets: one mean has less of a codec's lasting noise than any frame, and the donors that it is made of have less than others.
import { gained } from '../../kernels/channels.js'
import { addScaled } from '../../kernels/patch.js'
import type { Scratch, Workspace } from '../../kernels/workspace.js'
import type { Rect } from '../../raster/rect.js'
import type { StackShare } from '../../search/result.js'
import type { RepairJob } from '../repair.js'
import { addLit, litBy } from './common-donors.js'
import { type LentDonor, lentDonor } from './lent-donors.js'
import { insideOfFirst, type NearNoise, noiseLevel, usualLevel } from './near-noise.js'

/** At most so many times its variance, or of it: more is no noise of theirs. */
const MAX_MORE = 2
/** So many strengths are tried to either side of 1, each a fifth of a decibel from the next. */
const STEPS = 12
/** Where all that may be lent of it makes less of a difference than this, a factor, it has no say. */
const MIN_SAY = 1.03

/**
 * @param stack  all donors of one target frame, each with its weight
 * @param row    some of them, whose finest is lent
 * @param change what is lent of what each of them has beside their mean
 * @param near   as `noiseNear` has it; null: unknown
 * @returns a factor of standard deviation, 1 where nothing tells
 */
export async function lastingStrength(
  job: RepairJob,
  stack: readonly StackShare[],
  row: readonly StackShare[],
  change: number,
  near: readonly NearNoise[] | null,
): Promise<number> {
  if (near === null) return 1
  const { workspace, region } = job
  const { window } = region
  const [all, some] = [await lentOf(job, stack), await lentOf(job, row)]
  return workspace.within((scratch) => {
    const inside = scratch.laid(insideOfFirst(job))
    const own = meanLit(workspace, scratch, window, stack, all)
    const mean = meanLit(workspace, scratch, window, row, some)
    const middle = row.length >> 1
    const one = litBy(workspace, scratch, window, row[middle]!, some[middle]!)
    const shown = scratch.floats(own.length)
    const levelAt = (strength: number) => {
      shown.set(own)
      addScaled(workspace, own, null, -strength, shown)
      addScaled(workspace, mean, null, strength - change, shown)
      addScaled(workspace, one, null, change, shown)
      return noiseLevel(workspace, shown, inside, window.w)
    }
    return strengthFor(levelAt, usualLevel(near))
  })
}

/** Of strengths from 1 upwards and downwards the first that comes nearest to a level. @param levelAt null where nothing tells */
export function strengthFor(levelAt: (strength: number) => number | null, wanted: number): number {
  const tried: { readonly strength: number; readonly level: number }[] = []
  for (let k = 0; k <= STEPS; k++)
    for (const sign of k === 0 ? [0] : [1, -1]) {
      const strength = MAX_MORE ** ((sign * k) / (2 * STEPS))
      const level = levelAt(strength)
      if (level === null || !(level > 0)) return 1
      tried.push({ strength, level })
    }
  const levels = tried.map(({ level }) => level)
  if (Math.max(...levels) < MIN_SAY * Math.min(...levels)) return 1
  const off = ({ level }: { readonly level: number }) => Math.abs(Math.log(level / wanted))
  return tried.reduce((a, b) => (off(b) < off(a) ? b : a)).strength
}

/** Donors at the target's light, added up by their weights, in scratch. */
export function meanLit(
  workspace: Workspace,
  scratch: Scratch,
  window: Rect,
  shares: readonly StackShare[],
  lent: readonly LentDonor[],
): Float32Array {
  const sum = scratch.zeros(3 * window.w * window.h)
  const all = shares.reduce((total, { weight }) => total + weight, 0)
  for (const [k, share] of shares.entries())
    addLit(workspace, window, share, lent[k]!, share.weight / all, sum)
  return sum
}

/** A picture becomes another, and so many times what it differs from that by. */
export function scaleAbout(
  workspace: Workspace,
  data: Float32Array,
  mean: Readonly<Float32Array>,
  factor: number,
): void {
  if (factor === 1) return
  gained(workspace, data, [factor, factor, factor], data)
  addScaled(workspace, mean, null, 1 - factor, data)
}

/** Each as it lies on its frame, in their order. */
export async function lentOf(job: RepairJob, shares: readonly StackShare[]): Promise<LentDonor[]> {
  const lent: LentDonor[] = []
  for (const share of shares) lent.push(await lentDonor(job, share))
  return lent
}
