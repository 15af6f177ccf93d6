// The grain of a patch as its donors have it: the finest of a stack's donors that were shot in a row, one after the other. A
// stack averages it away and a hold stands still; noise that is made has its strength, but not what a codec does with it.
import type { Candidate, StackShare } from '../../search/result.js'
import { inARow, rowsOf, toAndFro } from '../grain/in-a-row.js'
import { RENEWED, renewalOf } from '../grain/measure.js'
import { changesIn, pacedWalk, timesWanted, timesWantedInAll } from '../grain/paced-walk.js'
import type { RepairJob } from '../repair.js'
import type { Blended } from './blend.js'
import { type CommonDonors, commonDonors, isSame, litBy } from './common-donors.js'
import { countedIn, layFinest } from './finest.js'
import { lastingStrength, meanLit, scaleAbout } from './lasting-strength.js'
import { type LentDonor, lentDonor } from './lent-donors.js'
import { meansApart } from './means-apart.js'
import { insideOfFirst, type NearNoise, noiseLevel, usualLevel } from './near-noise.js'
import type { PlateGrain } from './plate-grain.js'
import { paceFor, wantedChanges } from './plate-pace.js'

/** Rows whose noise is as near to the usual as this, a natural logarithm, are alike: the longest is taken. */
const SAME_NOISE = 0.03

/**
 * Donors that lie so many times as far apart as grain brings them, mean square, show something that moves: 3.5 and 20 where leaves swing,
 * 1.1 of a wall. So does a row whose mean lies so many times the grain's variance from the stack's: 28 under leaves' shadows, at most 0.4
 * on plaza and road, and 1.7 where a codec leaves a row as it was, so that its mean has all of one frame's grain.
 */
const MOVING = 2

/** Who lends the finest detail of one frame's patch. */
export interface GrainLender {
  readonly share: StackShare
  /** What it is multiplied by; of a `row` what it has beside the row's mean. */
  readonly strength: number
  /** Of what a codec leaves as it was only some is another one on each frame: the others in the row tell what lasts. */
  readonly row?: GrainRow
}

/** Donors in a row, as they lie on one target frame. */
interface GrainRow {
  readonly shares: readonly StackShare[]
  /** What the finest of their mean is multiplied by. */
  readonly strength: number
}

/** Who lends the grain of one candidate's frames. */
export interface GrainLenders {
  /** Who lends twice stands still as the plate does. */
  readonly isPaced: boolean
  /** Of a target frame of the candidate. */
  at(target: number): GrainLender
}

/** @returns null where no stack of the result has donors in a row, or the candidate's own follow each other anyway */
export async function grainLenders(
  job: RepairJob,
  candidate: Candidate,
  { within, near, pace }: Pick<PlateGrain, 'within' | 'near' | 'pace'>,
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
  const isRenewed = renewalOf(within) > RENEWED
  // The finest of one donor would put its leaves where another's are; grain that is another one on each frame is as well made.
  if (isRenewed && common.beyondGrain(within) > MOVING) return null
  // What lasts in the pixels of a held frame would be another one all at once on the first that is not it.
  const row =
    own !== null || isRenewed || near === null
      ? inARow(common.alike, isRenewed, isRenewed ? null : own)
      : await usualRow(job, common, near)
  if (row === null) return null
  // ... and that of a row would put its mean's there.
  const [target] = targets
  const all = stack.frames.find((f) => f.target === target)!.stack!
  const { inside } = job.region.frames.get(target!)!
  if (!isRenewed && (await meansApart(job, within, row, all, inside)) > MOVING) return null
  const first =
    own === null
      ? null
      : Math.max(
          0,
          row.findIndex((s) => isSame(s, own)),
        )
  // Of a camera that sways, what changes beside the region is texture on its way.
  const along = isRenewed ? null : await common.along()
  const goes = paceFor(pace, stack)
  const wanted = goes && along ? wantedChanges(targets, goes, along.times) : null
  const isPaced = along?.isAlong === true && wanted !== null
  const walk = await walkThrough(common, row, first, isPaced ? wanted : null, targets.length)
  const timesOf = isPaced ? timesWanted : timesWantedInAll
  const strength = wanted === null ? 1 : await common.changeAsked(walk, (changes) => timesOf(wanted, changes))
  const sharesOf = new Map(stack.frames.map((f) => [f.target, f.stack ?? []]))
  const on = (target: number, lender: StackShare) => {
    const shares = sharesOf.get(target)!
    const known = shares.find((s) => isSame(s, lender))
    if (known !== undefined) return known
    // Whose light was told on the first target goes with the light of any other.
    const [now, then] = [shares, sharesOf.get(targets[0]!)!].map(
      (all) => all.find((s) => isSame(s, common.donors[0]!))!,
    )
    const gain = lender.gain.map((g, c) => (g * now!.gain[c]!) / then!.gain[c]!) as [number, number, number]
    return { ...lender, gain }
  }
  const rowOn = (target: number) => row.map((lender) => on(target, lender))
  // A held frame has all that lasts in it already.
  const lasting =
    kind === 'hold' || isRenewed
      ? null
      : await lastingStrength(job, sharesOf.get(targets[0]!)!, rowOn(targets[0]!), strength, near)
  return {
    isPaced,
    at(target) {
      const share = on(target, walk[targets.indexOf(target)]!)
      return lasting === null
        ? { share, strength }
        : { share, strength, row: { shares: rowOn(target), strength: lasting } }
    },
  }
}

/** @param wanted what is to change from each target to the next; null: nothing is known of it, and neighbours follow each other */
async function walkThrough(
  common: CommonDonors,
  row: readonly StackShare[],
  first: number | null,
  wanted: readonly (number | null)[] | null,
  targets: number,
): Promise<readonly StackShare[]> {
  const changeOf = wanted && (await changesIn(row.length, (a, b) => common.changeInside(row[a]!, row[b]!)))
  const walk =
    wanted && changeOf
      ? pacedWalk(wanted, row.length, first, changeOf)
      : Array.from({ length: targets }, (_, i) => toAndFro((first ?? 0) + i, row.length))
  return walk.map((at) => row[at]!)
}

/**
 * Of all rows that there are, also of the frames nearest to the targets, the one whose noise is nearest to what those usually have:
 * what lies nearest to the clean plate, as the best donors do, is what a codec has kept least of.
 */
async function usualRow(
  job: RepairJob,
  common: CommonDonors,
  near: readonly NearNoise[],
): Promise<readonly StackShare[] | null> {
  const inside = insideOfFirst(job)
  const levels = new Map(near.map(({ frame, level }) => [frame, level]))
  for (const share of common.alike) {
    const { picture } = await lentDonor(job, share)
    const level = noiseLevel(job.workspace, picture.data, inside, job.region.window.w)
    if (share.plate === 0 && level !== null) levels.set(share.frame, level)
  }
  const own = common.alike.filter(({ plate, frame }) => plate === 0 && levels.has(frame))
  const others = near
    .filter(({ frame }) => !common.donors.some((s) => s.plate === 0 && s.frame === frame))
    .map(({ frame }): StackShare => ({ plate: 0, frame, dx: 0, dy: 0, gain: [1, 1, 1], weight: 0 }))
  const usual = usualLevel(near)
  const stray = (row: readonly StackShare[]) => {
    const mean = row.reduce((sum, { frame }) => sum + levels.get(frame)!, 0) / row.length
    return Math.max(SAME_NOISE, Math.abs(Math.log(mean / usual)))
  }
  const rows = rowsOf([...own, ...others], false)
  rows.sort((a, b) => stray(a) - stray(b) || b.length - a.length)
  for (const row of rows) {
    const lending: StackShare[] = []
    for (const share of row) {
      const one = share.weight > 0 ? share : await common.alsoLends(share.frame)
      if (one !== null) lending.push(one)
    }
    if (lending.length === row.length) return lending
  }
  return inARow(common.alike, false, null)
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
  { share, strength, row }: GrainLender,
  inside: Readonly<Float32Array>,
): Promise<LentDonor> {
  const { workspace, region } = job
  const { w } = region.window
  const donor = await lentDonor(job, share)
  const lent: LentDonor[] = []
  for (const other of row?.shares ?? []) lent.push(await lentDonor(job, other))
  workspace.within((scratch) => {
    const own = blended.matched.data
    const lit = litBy(workspace, scratch, region.window, share, donor)
    if (row !== undefined) {
      const mean = meanLit(workspace, scratch, region.window, row.shares, lent)
      // The mean, and of what the donor has beside it so much that after all is multiplied alike `strength` times it is left.
      scaleAbout(workspace, lit, mean, strength / row.strength)
    }
    const counted = countedIn(workspace, inside, donor.there, blended.there, w)
    layFinest(workspace, scratch, own, lit, counted, w, row?.strength ?? strength)
  })
  return donor
}
