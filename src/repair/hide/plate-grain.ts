// The grain of the plate that is repaired: measured on the region's own surface where the best donors show it, since a codec
// keeps more of it on one surface than on another; else beside the region. Once for all candidates of a result.
import { readRects } from '../../footage/read-many.js'
import { cutSamples } from '../../raster/plane.js'
import { grow, intersect, type Rect } from '../../raster/rect.js'
import { dilate, everyInside, GUARD_PX, support } from '../../region/region.js'
import type { Result } from '../../search/result.js'
import { lyingUnder, type Seen } from '../grain/laid-frames.js'
import { grainOfLying, grainVariance, measureGrain, middleOf, RENEWED, renewalOf } from '../grain/measure.js'
import type { GrainModel } from '../grain/model.js'
import type { RepairJob } from '../repair.js'
import { isSeenEmpty, type NearNoise, nearestEmpty, noiseNear } from './near-noise.js'
import { type PlatePace, paceOf, usualPace } from './plate-pace.js'
import { emptySteps, regionPace, stepsOver } from './region-pace.js'

/** Beyond the region's window this much is looked at, too: a ring alone has few smooth places. */
const AROUND_PX = 40
/** So many frames in a row tell what changes from each to the next, and what of it comes back. */
const FRAMES = 13
/** ... and of a camera that moves these: further off it has turned, and a shift no longer lays them on each other. */
const FRAMES_MOVING = 3

/** A codec's grain is brought to another time by at most so many times its variance. */
const MAX_CHANGE = 3
/** ... and has on one surface at most so many times the variance that it has beside it. */
const MAX_MORE = 6

/** The plate's grain on the region's own surface, as far as that is seen, and beside it. */
export interface PlateGrain {
  /** What a patch is to have. */
  readonly within: GrainModel
  readonly beside: GrainModel
  /** Beside the region, as the donors show it, at the targets' time and with its places: measured as `within` is. */
  readonly around: GrainModel
  /** As `noiseNear` has it; null where grain is another one on each frame, or nothing tells. */
  readonly near: readonly NearNoise[] | null
  /** As `paceOf` has it; null where grain is another one on each frame, or nothing tells. */
  readonly pace: PlatePace | null
  /** As `regionPace` has it; null where `pace` tells as well, or nothing does. */
  readonly inside: PlatePace | null
}

const known = new WeakMap<RepairJob, Promise<PlateGrain | null>>()

/** That of the surround, on which frames are compared. @returns null where no surface is seen in two frames */
export async function grainBeside(job: RepairJob): Promise<GrainModel | null> {
  return (await grainRound(job))?.beside ?? null
}

/** @returns null where no surface is seen in two frames */
export function grainRound(job: RepairJob): Promise<PlateGrain | null> {
  let found = known.get(job)
  if (found === undefined) {
    found = measure(job)
    known.set(job, found)
  }
  return found
}

/** Of a job whose grain was measured elsewhere: it is not measured again. */
export function knowGrain(job: RepairJob, grain: PlateGrain | null): void {
  known.set(job, Promise.resolve(grain))
}

/** What is read for it: frames near the targets, those that show the region best at the middle one, and steps on which it is empty. */
export function grainFootage({ target, region, result }: RepairJob): {
  readonly rect: Rect
  readonly targets: readonly number[]
  readonly lenders: readonly number[]
  readonly near: readonly number[]
  /** Each looked at against the one before. */
  readonly steps: readonly number[]
} {
  const targets = result.target.frames
  const middle = targets[targets.length >> 1]!
  return {
    rect: intersect(grow(region.window, AROUND_PX), target.active),
    targets: [...target.frames]
      .sort((a, b) => Math.abs(a - middle) - Math.abs(b - middle))
      .slice(0, result.camera === undefined ? FRAMES : FRAMES_MOVING)
      .sort((a, b) => a - b),
    lenders: lendersOf(result),
    near: nearestEmpty(result),
    steps: emptySteps(result),
  }
}

/** None of a camera that moves, where the region is somewhere else on each frame, or of a region that no frame shows empty. */
function lendersOf({ matrix, camera, candidates }: Result): number[] {
  if (matrix === undefined || camera !== undefined || !isSeenEmpty(candidates)) return []
  const row = matrix.quality[matrix.targets.length >> 1]!
  return matrix.donors
    .map(({ plate, frame }, i) => ({ plate, frame, quality: row[i] ?? null }))
    .filter((d) => d.plate === 0 && d.quality !== null)
    .sort((a, b) => b.quality! - a.quality!)
    .slice(0, FRAMES)
    .map((d) => d.frame)
    .sort((a, b) => a - b)
}

async function measure(job: RepairJob): Promise<PlateGrain | null> {
  const models = await modelsOf(job)
  if (models === null) return null
  if (renewalOf(models.within) > RENEWED) return { ...models, near: null, pace: null, inside: null }
  const [near, pace] = [await noiseNear(job), await paceOf(job)]
  const inside = pace && regionPace(pace, await stepsOver(job, grainFootage(job).steps))
  const within =
    inside === null || !models.isOwn ? models.within : await changingBy(job, models, usualPace(inside))
  return { ...models, within, near, pace, inside }
}

/**
 * The region's grain, as much of it changing as is to: it was told from the best frames, which need not change as others do.
 *
 * @param change variance by which the region is to change from a frame to the next
 */
async function changingBy(job: RepairJob, { within, scale }: Models, change: number): Promise<GrainModel> {
  const { lenders } = grainFootage(job)
  const steps = await stepsOver(
    job,
    lenders.filter((frame) => lenders.includes(frame - 1)),
  )
  const told = (scale * steps.reduce((sum, { there }) => sum + there, 0)) / steps.length
  if (!(told > 0)) return within
  const fresh = within.fresh.map((s) => s.map((v) => (v * change) / told))
  const whole = within.whole.map((s, k) => s.map((v, i) => Math.max(v, fresh[k]![i]!)))
  return { ...within, fresh, whole }
}

interface Models extends Pick<PlateGrain, 'within' | 'beside' | 'around'> {
  /** Was that of the region told in it? */
  readonly isOwn: boolean
  /** By how much what changes in it was brought to the targets' time, a factor of variance. */
  readonly scale: number
}

async function modelsOf(job: RepairJob): Promise<Models | null> {
  const { target, region, workspace } = job
  const { window } = region
  const { rect, targets, lenders } = grainFootage(job)
  const near = dilate(support(everyInside(region)), window.w, window.h, GUARD_PX)
  const inside = placedIn(near, window, rect)
  const outside = inside.map((v) => 1 - v)
  const read = async (frames: readonly number[]): Promise<Seen[]> => {
    const seen: Seen[] = []
    for await (const { frame, picture } of readRects(target, frames, rect))
      if (picture) seen.push({ frame, picture })
    return seen.sort((a, b) => a.frame - b.frame)
  }
  const moves = job.result.camera !== undefined
  const clip = target.clipLevel
  const now = measureGrain(workspace, await read(targets), outside, clip, false, moves)
  const lending = await read(lenders)
  const middle = middleOf(lending)
  const alike = now && { within: now, beside: now, around: now, isOwn: false, scale: 1 }
  if (middle === undefined) return alike
  const [lyingInside, lyingOutside] = lyingUnder(workspace, middle, lending, [inside, outside], moves)
  const isMoved = lyingInside!.some(({ response }) => response !== null)
  // What moving a frame leaves of edges would count as grain; that of a sensor is told as well where there are none.
  const isSmooth = isMoved && now !== null && renewalOf(now) > RENEWED
  const own = renewedAs(now, grainOfLying(workspace, lyingInside!, middle, inside, clip, !isSmooth))
  if (own === null) return alike
  const then = grainOfLying(workspace, lyingOutside!, middle, outside, clip, false, true)
  // So much more of it than beside the region is no grain but somebody who passes.
  if (then && now && grainVariance(own) > MAX_MORE * grainVariance(then)) return alike
  const there = overWindow(own, rect, window)
  if (now === null || then === null) {
    const beside = { ...(now ?? then ?? there), where: null }
    return { within: there, beside, around: beside, isOwn: true, scale: 1 }
  }
  const around = then.where ? atTimeOf(overWindow(then, rect, window), now, then) : now
  const scale = changeOverTime(now, then, 'fresh')
  return { within: atTimeOf(there, now, then), beside: now, around, isOwn: true, scale }
}

/** Where all grain beside the region is another one on each frame it is so in it: what lasts there is scenery that moves. */
function renewedAs(now: GrainModel | null, own: GrainModel | null): GrainModel | null {
  const lasts = now !== null && own !== null && renewalOf(now) > RENEWED && renewalOf(own) <= RENEWED
  return lasts ? { ...own, whole: own.fresh } : own
}

function overWindow(model: GrainModel, rect: Rect, window: Rect): GrainModel {
  return { ...model, where: model.where && cutSamples(model.where, rect, window) }
}

/**
 * Grain as it is while the donors are shot, brought to what it is on the target frames: codecs spend now more, now less. Told by
 * what changes beside the region, where no frame had to be moved for it.
 */
function atTimeOf(own: GrainModel, now: GrainModel, then: GrainModel): GrainModel {
  const [whole, fresh] = [changeOverTime(now, then, 'whole'), changeOverTime(now, then, 'fresh')]
  const scaled = own.whole.map((s) => s.map((v) => v * whole))
  return {
    ...own,
    whole: scaled,
    fresh: own.fresh.map((s, k) => s.map((v, i) => Math.min(v * fresh, scaled[k]![i]!))),
  }
}

function changeOverTime(now: GrainModel, then: GrainModel, of: 'whole' | 'fresh'): number {
  const isTold = now.changes !== null && then.changes !== null
  const [a, b] = isTold ? [now.changes, then.changes] : [grainVariance(now, of), grainVariance(then, of)]
  return b > 0 ? Math.min(MAX_CHANGE, Math.max(1 / MAX_CHANGE, a / b)) : 1
}

/** A mask over the window, over a larger rectangle. */
function placedIn(bits: Readonly<Uint8Array>, window: Rect, rect: Rect): Float32Array {
  const out = new Float32Array(rect.w * rect.h)
  for (let y = 0; y < window.h; y++)
    out.set(
      bits.subarray(y * window.w, (y + 1) * window.w),
      (window.y - rect.y + y) * rect.w + window.x - rect.x,
    )
  return out
}
