// The grain of a patch as its donors have it: the finest of a stack's donors that were shot in a row, one after the other. A
// stack averages it away and a hold stands still; noise that is made has its strength, but not what a codec does with it.
import { readRect } from '../../footage/plate.js'
import { boxMean } from '../../kernels/box.js'
import { gained } from '../../kernels/channels.js'
import type { Workspace } from '../../kernels/workspace.js'
import { type Frame, frame } from '../../raster/frame.js'
import type { Candidate, StackShare } from '../../search/result.js'
import { awayInCells, changeOver } from '../grain/change-over.js'
import { inARow, toAndFro } from '../grain/in-a-row.js'
import { renewalOf } from '../grain/measure.js'
import type { GrainModel } from '../grain/model.js'
import type { RepairJob } from '../repair.js'
import type { Blended } from './blend.js'
import { type LentDonor, lentDonor } from './lent-donors.js'
import { lightByField } from './lit-by-field.js'

/** What differs over more than so many pixels either way is light and not grain. */
const LIGHT_PX = 32
/** Of grain more than this is another one on each frame where nothing is carried along. */
const RENEWED = 0.9

/** One that lies this many times the usual mean square from the mean of all in some cell shows somebody there. */
const PASSING = 36
/** What changes beside the region may ask for at most so many times the variance of what its donors change by. */
const MAX_CHANGE = 3
/** So many pairs of target frames tell what changes beside the region. */
const MAX_PAIRS = 12

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
  const sharesOf = new Map(stack.frames.map((f) => [f.target, f.stack ?? []]))
  const all = frames.map((f) => sharesOf.get(f.target) ?? [])
  const common = (all[0] ?? []).filter((one) => all.every((shares) => shares.some((s) => isSame(s, one))))
  const own = kind === 'hold' ? { ...frames[0]!, frame: frames[0]!.donor, weight: 1 } : null
  const alike = await alikeOf(job, common, own, frames[0]!.target)
  const isRenewed = renewalOf(model) > RENEWED
  // What lasts in the pixels of a held frame would be another one all at once on the first that is not it.
  const row = inARow(alike, isRenewed, isRenewed ? null : own)
  if (row === null) return null
  const targets = frames.map((f) => f.target)
  const first = Math.max(0, own === null ? 0 : row.findIndex((s) => isSame(s, own)))
  const walk = targets.map((_, i) => row[toAndFro(first + i, row.length)]!)
  const strength = isRenewed ? 1 : await changeAsked(job, alike, walk, targets)
  return {
    at(target) {
      const lender = walk[targets.indexOf(target)]!
      return { share: sharesOf.get(target)!.find((s) => isSame(s, lender))!, strength }
    },
  }
}

function isSame(
  one: Pick<StackShare, 'plate' | 'frame'>,
  other: Pick<StackShare, 'plate' | 'frame'>,
): boolean {
  return one.plate === other.plate && one.frame === other.frame
}

/**
 * Those donors that lie no further from the mean of all than is usual in the region: somebody in a corner of one is a sixteenth of
 * a mean, and all there is where its finest is lent.
 *
 * @param own what their grain is lent to; null: their own mean
 * @returns none where that is not like them: it shows another state
 */
async function alikeOf(
  job: RepairJob,
  donors: readonly StackShare[],
  own: StackShare | null,
  target: number,
): Promise<readonly StackShare[]> {
  const { window, frames } = job.region
  const { inside } = frames.get(target)!
  const mean = new Float32Array(3 * window.w * window.h)
  const lit: Float32Array[] = []
  for (const share of donors) {
    const one = litBy(job, share, await lentDonor(job, share))
    for (let i = 0; i < mean.length; i++) mean[i]! += one[i]! / donors.length
    lit.push(one)
  }
  const away = lit.map((one) => awayInCells(one, mean, inside, window.w))
  const usual = away[0]?.map((_, k) => middleOf(away.map((cells) => cells[k]!))) ?? []
  const everywhere = middleOf(usual)
  const isAlike = (cells: readonly number[]) =>
    cells.every((v, k) => v <= PASSING * Math.max(everywhere, usual[k]!))
  if (own !== null) {
    const held = litBy(job, own, await lentDonor(job, own))
    if (!isAlike(awayInCells(held, mean, inside, window.w))) return []
  }
  return donors.filter((_, d) => isAlike(away[d]!))
}

function middleOf(values: readonly number[]): number {
  return Float64Array.from(values).sort()[values.length >> 1] ?? 0
}

/** A codec spends now more, now less: what changes beside the region tells by how much, as it goes with what changes in it. */
async function changeAsked(
  job: RepairJob,
  donors: readonly StackShare[],
  walk: readonly StackShare[],
  targets: readonly number[],
): Promise<number> {
  const { region, target } = job
  const { surround, inside } = region.frames.get(targets[0]!)!
  const pictures = new Map<StackShare, Frame>()
  for (const share of donors) pictures.set(share, (await lentDonor(job, share)).picture)
  const changes = (
    pairs: readonly (readonly [StackShare, StackShare])[],
    over: Float32Array,
    isMixed: boolean,
  ) => meanOf(pairs.map(([a, b]) => changeOver(pictures.get(a)!, pictures.get(b)!, over, isMixed)))
  const following = donors.flatMap((a) =>
    donors.flatMap((b) => (b.plate === a.plate && b.frame === a.frame + 1 ? [[a, b] as const] : [])),
  )
  const walked = walk.slice(1).map((share, i) => [walk[i]!, share] as const)
  const now: (number | null)[] = []
  let before: Frame | null = null
  let last = Number.NaN
  for (const number of targets.slice(0, MAX_PAIRS + 1)) {
    const seen = await readRect(target, number, region.window)
    if (before !== null && number === last + 1) now.push(changeOver(seen, before, surround, true))
    before = seen
    last = number
  }
  const [then, there, has, wants] = [
    changes(following, surround, true),
    changes(following, inside, false),
    changes(walked, inside, false),
    meanOf(now),
  ]
  if (!(then > 0 && there > 0 && has > 0 && wants > 0)) return 1
  const asked = (there / then) * (wants / has)
  return Math.sqrt(Math.min(MAX_CHANGE, Math.max(1 / MAX_CHANGE, asked)))
}

function meanOf(values: readonly (number | null)[]): number {
  const known = values.filter((v) => v !== null)
  return known.length > 0 ? known.reduce((sum, v) => sum + v, 0) / known.length : 0
}

/** What is lent, its finest that of one donor. @param inside 0 where the region is not, which says nothing */
export async function withGrainOf(
  job: RepairJob,
  blended: Blended,
  { share, strength }: GrainLender,
  inside: Readonly<Float32Array>,
): Promise<{ readonly blended: Blended; readonly donor: LentDonor }> {
  const { window } = job.region
  const donor = await lentDonor(job, share)
  const lit = litBy(job, share, donor)
  const matched = frame(window.h, window.w, 3, blended.matched.data.slice())
  const counts = inside.map((v, i) => (v > 0 && donor.there[i] === 1 && blended.there[i] === 1 ? 1 : 0))
  const around = boxMean(job.workspace, counts, window.w, LIGHT_PX)
  for (let c = 0; c < 3; c++)
    addFinest(job.workspace, matched.data, lit, c, strength, counts, around, window.w)
  return { blended: { ...blended, matched }, donor }
}

/** A donor's pixels brought to the target's light. */
function litBy(
  { workspace, region: { window } }: RepairJob,
  { gain, field }: StackShare,
  { picture }: LentDonor,
): Float32Array {
  const out = picture.data.slice()
  if (field) lightByField(workspace, out, window, field)
  gained(workspace, out, gain, out)
  return out
}

function addFinest(
  workspace: Workspace,
  own: Float32Array,
  donor: Readonly<Float32Array>,
  channel: number,
  strength: number,
  counts: Readonly<Float32Array>,
  around: Readonly<Float32Array>,
  width: number,
): void {
  const more = new Float32Array(counts.length)
  for (let i = 0, j = channel; i < more.length; i++, j += 3)
    more[i] = counts[i] === 1 ? strength * (donor[j]! - own[j]!) : 0
  const light = boxMean(workspace, more, width, LIGHT_PX)
  for (let i = 0, j = channel; i < more.length; i++, j += 3)
    if (counts[i] === 1) own[j]! += more[i]! - light[i]! / around[i]!
}
