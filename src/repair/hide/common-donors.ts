// The donors that all frames of a stack have in common, and what is told of them once for all candidates: which of them show what
// the others do, and how much they change by from one to the next.
import { addGained, addScaled } from '../../kernels/patch.js'
import type { Scratch, Workspace } from '../../kernels/workspace.js'
import { middleValue } from '../../match/selection.js'
import type { Rect } from '../../raster/rect.js'
import type { Candidate, StackShare } from '../../search/result.js'
import { awayInCells, changeOver } from '../grain/change-over.js'
import type { GrainModel } from '../grain/model.js'
import { type Along, alongWith } from '../grain/paced-walk.js'
import { hasHoles } from '../lend.js'
import type { RepairJob } from '../repair.js'
import { grainVarianceOver } from './apart.js'
import { type LentDonor, lentDonor } from './lent-donors.js'
import { litTo } from './lit-by-field.js'

/** One that lies this many times the usual mean square from the mean of all in some cell shows somebody there. */
const PASSING = 36
/**
 * Of what each of a stack's donors would have if all had the same. Who has less is expected to lie a hundred times as far from the truth,
 * and nothing of it shows in the mean: its finest, at full strength, would be that of something else.
 */
const MIN_SHARE = 0.01
/** What changes beside the region may ask for at most so many times the variance of what its donors change by. */
const MAX_CHANGE = 3

const known = new WeakMap<RepairJob, Map<string, Promise<CommonDonors>>>()

/**
 * Of a stack's frames on some targets.
 *
 * @param targets in their order, at least one; some of the stack's
 * @throws FRAME_UNREADABLE, FRAME_MISSING from the footage
 */
export function commonDonors(
  job: RepairJob,
  stack: Candidate,
  targets: readonly number[],
): Promise<CommonDonors> {
  const ofJob = known.get(job) ?? new Map<string, Promise<CommonDonors>>()
  known.set(job, ofJob)
  const name = `${stack.id} ${targets.join(' ')}`
  const found = ofJob.get(name) ?? CommonDonors.over(job, stack, targets)
  ofJob.set(name, found)
  // What could not be read may be there the next time.
  found.catch(() => ofJob.delete(name))
  return found
}

export class CommonDonors {
  /**
   * Those that lie no further from the mean of all than is usual in the region: somebody in a corner of one is a sixteenth of a
   * mean, and all there is where its finest is lent.
   */
  alike: readonly StackShare[] = []
  #usual: readonly number[] = []
  #everywhere = 0
  #awayOf: readonly (readonly number[])[] = []
  /** By both frames: what a donor differs from another by, inside the region. */
  readonly #changes = new Map<string, number | null>()
  #along: Promise<Along | null> | undefined

  static async over(job: RepairJob, stack: Candidate, targets: readonly number[]): Promise<CommonDonors> {
    const sharesOf = new Map(stack.frames.map((f) => [f.target, f.stack ?? []]))
    const all = targets.map((target) => sharesOf.get(target) ?? [])
    const common = (all[0] ?? []).filter((one) =>
      all.every((shares) => shares.some((s) => isSame(s, one) && s.weight * shares.length >= MIN_SHARE)),
    )
    const made = new CommonDonors(job, targets, common, await meanLight(job, common))
    const away: (readonly number[])[] = []
    for (const share of common) away.push(made.#away(share, await lentDonor(job, share)))
    made.#awayOf = away
    made.#usual = away[0]?.map((_, k) => middleValue(away.map((cells) => cells[k]!))) ?? []
    made.#everywhere = middleValue(made.#usual)
    made.alike = common.filter((_, d) => made.#isAlike(away[d]!))
    return made
  }

  /** @param mean linear RGB over the window, at the light of the first target */
  private constructor(
    readonly job: RepairJob,
    readonly targets: readonly number[],
    readonly donors: readonly StackShare[],
    private readonly mean: Float32Array,
  ) {}

  /**
   * How far those that are alike lie from the mean of all, mean square over that by which grain alone would: 1 where only grain tells
   * them apart, more where what they show moves.
   *
   * @param grain of the region; of a plate without any, infinite
   */
  beyondGrain(grain: GrainModel): number {
    const away = this.#awayOf.filter((cells) => this.#isAlike(cells)).flat()
    const mean = away.reduce((sum, v) => sum + v, 0) / away.length
    // The mean has one of them in it.
    return mean / (grainVarianceOver(grain, this.mean, this.#inside) * (1 - 1 / this.donors.length))
  }

  /** Is another donor like them? If not it shows another state. */
  async admits(own: StackShare): Promise<boolean> {
    return this.#isAlike(this.#away(own, await lentDonor(this.job, own)))
  }

  /**
   * A frame of the target's plate that is none of them, where the camera stands.
   *
   * @returns as it lends at the light of the first target; null where it shows something else @throws as over
   */
  async alsoLends(frame: number): Promise<StackShare | null> {
    const unlit: StackShare = {
      plate: 0,
      frame,
      dx: 0,
      dy: 0,
      gain: [1, 1, 1],
      weight: 1 / this.donors.length,
    }
    const lent = await lentDonor(this.job, unlit)
    const [own, all] = [this.#light(lent.picture.data), this.#light(this.mean)]
    const gain = own.map((v, c) => all[c]! / v) as [number, number, number]
    if (hasHoles(lent.there) || !gain.every((v) => v > 0 && Number.isFinite(v))) return null
    const share = { ...unlit, gain }
    return this.#isAlike(this.#away(share, lent)) ? share : null
  }

  /** R, G, B: sums over the region. */
  #light(data: Readonly<Float32Array>): [number, number, number] {
    const sums: [number, number, number] = [0, 0, 0]
    const inside = this.#inside
    for (let i = 0, j = 0; i < inside.length; i++, j += 3) {
      if (!(inside[i]! > 0)) continue
      for (let c = 0; c < 3; c++) sums[c]! += data[j + c]!
    }
    return sums
  }

  /**
   * A codec spends now more, now less: what changes beside the region tells by how much, as it goes with what changes in it.
   *
   * @param walk     of those that are alike or also lend, one for each target
   * @param timesFor what its changes are to be multiplied by, a variance; null: nothing tells
   * @returns a factor of standard deviation
   */
  async changeAsked(
    walk: readonly StackShare[],
    timesFor: (changes: readonly (number | null)[]) => number | null,
  ): Promise<number> {
    const steps: (number | null)[] = []
    for (const [i, share] of walk.slice(1).entries()) steps.push(await this.changeInside(walk[i]!, share))
    return Math.sqrt(Math.min(MAX_CHANGE, Math.max(1 / MAX_CHANGE, timesFor(steps) ?? 1)))
  }

  /** How what changes inside the region goes with what changes beside it, from one donor to the next; null where nothing tells. */
  along(): Promise<Along | null> {
    this.#along ??= this.#askAlong()
    return this.#along
  }

  async #askAlong(): Promise<Along | null> {
    const { job, alike, targets } = this
    const { workspace } = job
    const { surround } = job.region.frames.get(targets[0]!)!
    const following = alike.flatMap((a) =>
      alike.flatMap((b) => (b.plate === a.plate && b.frame === a.frame + 1 ? [[a, b] as const] : [])),
    )
    const beside: (number | null)[] = []
    const there: (number | null)[] = []
    for (const [a, b] of following) {
      const [one, other] = [await lentDonor(job, a), await lentDonor(job, b)]
      beside.push(changeOver(workspace, one.picture, other.picture, surround, true))
      there.push(await this.changeInside(a, b))
    }
    return alongWith(beside, there)
  }

  /** What they differ by inside the region, as `changeOver` has it. */
  async changeInside(a: StackShare, b: StackShare): Promise<number | null> {
    const name = `${a.plate} ${a.frame} ${b.plate} ${b.frame}`
    const found = this.#changes.get(name)
    if (found !== undefined) return found
    const [one, other] = [await lentDonor(this.job, a), await lentDonor(this.job, b)]
    const change = changeOver(this.job.workspace, one.picture, other.picture, this.#inside, false)
    this.#changes.set(name, change)
    return change
  }

  get #inside(): Float32Array {
    return this.job.region.frames.get(this.targets[0]!)!.inside
  }

  /** How far a donor lies from the mean, per cell. */
  #away(share: StackShare, lent: LentDonor): number[] {
    const { workspace, region } = this.job
    return workspace.within((scratch) => {
      const lit = litBy(workspace, scratch, region.window, share, lent)
      return awayInCells(workspace, lit, this.mean, this.#inside, region.window.w)
    })
  }

  #isAlike(cells: readonly number[]): boolean {
    return cells.every((v, k) => v <= PASSING * Math.max(this.#everywhere, this.#usual[k]!))
  }
}

/** Of donors as they lie at the target's light, one at a time: a dozen of half a large frame are a gigabyte. */
async function meanLight(job: RepairJob, donors: readonly StackShare[]): Promise<Float32Array> {
  const { workspace, region } = job
  const held = workspace.hold()
  try {
    const sum = held.zeros(3 * region.window.w * region.window.h)
    for (const share of donors) {
      const lent = await lentDonor(job, share)
      addLit(workspace, region.window, share, lent, 1 / donors.length, sum)
    }
    return sum.slice()
  } finally {
    held.release()
  }
}

export function isSame(
  one: Pick<StackShare, 'plate' | 'frame'>,
  other: Pick<StackShare, 'plate' | 'frame'>,
): boolean {
  return one.plate === other.plate && one.frame === other.frame
}

/** A donor's pixels brought to the target's light, in scratch. */
export function litBy(
  workspace: Workspace,
  scratch: Scratch,
  window: Rect,
  { gain, field }: Pick<StackShare, 'gain' | 'field'>,
  { picture }: Pick<LentDonor, 'picture'>,
): Float32Array {
  const out = scratch.floats(picture.data.length)
  litTo(workspace, picture.data, window, { gain, field }, out)
  return out
}

/** Adds `factor` times a donor's pixels at the target's light. */
export function addLit(
  workspace: Workspace,
  window: Rect,
  share: Pick<StackShare, 'gain' | 'field'>,
  lent: Pick<LentDonor, 'picture'>,
  factor: number,
  sum: Float32Array,
): void {
  if (share.field === undefined) addGained(workspace, lent.picture.data, share.gain, factor, sum)
  else
    workspace.within((scratch) =>
      addScaled(workspace, litBy(workspace, scratch, window, share, lent), null, factor, sum),
    )
}
