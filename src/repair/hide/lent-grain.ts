// The grain of a patch as its donors have it: the finest of a stack's donors that were shot in a row, one after the other. A
// stack averages it away and a hold stands still; noise that is made has its strength, but not what a codec does with it.
import { boxMean } from '../../kernels/box.js'
import { addFinest, commonPixels, finestOf } from '../../kernels/finest.js'
import type { Workspace } from '../../kernels/workspace.js'
import type { Candidate, StackShare } from '../../search/result.js'
import { inARow, toAndFro } from '../grain/in-a-row.js'
import { renewalOf } from '../grain/measure.js'
import type { GrainModel } from '../grain/model.js'
import { hasHoles } from '../lend.js'
import type { RepairJob } from '../repair.js'
import type { Blended } from './blend.js'
import { commonDonors, isSame, litBy } from './common-donors.js'
import { type LentDonor, lentDonor } from './lent-donors.js'

/** What differs over more than so many pixels either way is light and not grain. */
const LIGHT_PX = 32
/** Of grain more than this is another one on each frame where nothing is carried along. */
const RENEWED = 0.9

/** Who lends the finest detail of one frame's patch. */
export interface GrainLender {
  readonly share: StackShare
  /** What it is multiplied by. */
  readonly strength: number
}

/** Who lends the grain of one candidate's frames. */
export interface GrainLenders {
  /** Of a target frame of the candidate. */
  at(target: number): GrainLender
}

/** @returns null where no stack of the result has donors in a row, or the candidate's own follow each other anyway */
export async function grainLenders(
  job: RepairJob,
  candidate: Candidate,
  model: GrainModel,
): Promise<GrainLenders | null> {
  const { kind, frames } = candidate
  // Of a camera that moves each donor is as sharp and lies as far off as it was warped: their finest would jump.
  if (job.result.camera !== undefined) return null
  const stack = kind === 'stack' ? candidate : job.result.candidates.find((c) => c.kind === 'stack')
  if ((kind !== 'hold' && kind !== 'stack') || stack === undefined) return null
  const targets = frames.map((f) => f.target)
  const common = await commonDonors(job, stack, targets)
  const own = kind === 'hold' ? { ...frames[0]!, frame: frames[0]!.donor, weight: 1 } : null
  if (own !== null && !(await common.admits(own))) return null
  const isRenewed = renewalOf(model) > RENEWED
  // What lasts in the pixels of a held frame would be another one all at once on the first that is not it.
  const row = inARow(common.alike, isRenewed, isRenewed ? null : own)
  if (row === null) return null
  const first = Math.max(0, own === null ? 0 : row.findIndex((s) => isSame(s, own)))
  const walk = targets.map((_, i) => row[toAndFro(first + i, row.length)]!)
  const strength = isRenewed ? 1 : await common.changeAsked(walk)
  const sharesOf = new Map(stack.frames.map((f) => [f.target, f.stack ?? []]))
  return {
    at(target) {
      const lender = walk[targets.indexOf(target)]!
      return { share: sharesOf.get(target)!.find((s) => isSame(s, lender))!, strength }
    },
  }
}

/**
 * What is lent, its finest that of one donor.
 *
 * @param blended what of it is in what was held for it is changed
 * @param inside  0 where the region is not, which says nothing
 */
export async function withGrainOf(
  job: RepairJob,
  blended: Blended,
  { share, strength }: GrainLender,
  inside: Readonly<Float32Array>,
): Promise<LentDonor> {
  const { workspace, region } = job
  const { w } = region.window
  const donor = await lentDonor(job, share)
  workspace.within((scratch) => {
    const own = blended.matched.data
    const lit = litBy(workspace, scratch, region.window, share, donor)
    const [counts, around] = countedIn(workspace, inside, donor.there, blended.there, w).map((plane) =>
      scratch.laid(plane),
    ) as [Readonly<Float32Array>, Readonly<Float32Array>]
    const [more, light] = [scratch.floats(counts.length), scratch.floats(counts.length)]
    for (const channel of [0, 1, 2] as const) {
      finestOf(workspace, own, lit, counts, channel, strength, more)
      boxMean(workspace, more, w, LIGHT_PX, light)
      addFinest(workspace, more, light, around, counts, channel, own)
    }
  })
  return donor
}

type Counted = readonly [counts: Readonly<Float32Array>, around: Readonly<Float32Array>]

/** Of a mask, and of donors that are there all over. */
const countedAll = new WeakMap<Readonly<Float32Array>, Counted>()

/** 1 per pixel of the region where both are there, and how many of those there are round each pixel: a share. */
function countedIn(
  workspace: Workspace,
  inside: Readonly<Float32Array>,
  there: Readonly<Uint8Array>,
  also: Readonly<Uint8Array>,
  width: number,
): Counted {
  const isWhole = !hasHoles(there) && !hasHoles(also)
  const known = isWhole ? countedAll.get(inside) : undefined
  if (known !== undefined) return known
  const counts = new Float32Array(inside.length)
  commonPixels(workspace, inside, there, also, counts)
  const counted = [counts, boxMean(workspace, counts, width, LIGHT_PX)] as const
  if (isWhole) countedAll.set(inside, counted)
  return counted
}
