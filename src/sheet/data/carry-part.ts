// The frames that the page plays, of some of the target frames: of all candidates, so that what those of one frame share is
// made once. Parts go to other threads and come back as plain data.
import pLimit from 'p-limit'
import type { MeasuredFrame } from '../../repair/finish/measured.js'
import type { Candidate, FrameMatch } from '../../search/result.js'
import { pictureFile } from '../html/encode.js'
import type { Plan } from './budget.js'
import { shownFrame } from './measures.js'
import type { FrameMeter, PictureSource } from './pictures.js'
import { BEST, playing } from './played.js'
import type { RowPictures, Show } from './seen.js'
import { carriedFrames, type ShownLent, shownLent, type TargetFrame, targetFrame } from './strips.js'

/** Pictures asked for at a time: enough to keep a few cores busy, few enough to bound the memory. */
const AT_A_TIME = 4

/** A target frame, and its file in base64. */
interface CarriedTarget {
  readonly target: TargetFrame
  readonly file: string
}

export interface LentFrame {
  /** index into the candidate's frames */
  readonly index: number
  /** a file in base64 */
  readonly file: string
}

export interface CarriedPart {
  readonly targets: readonly CarriedTarget[]
  /** per candidate, best first */
  readonly lent: readonly (readonly LentFrame[])[]
  /** per candidate, of the first few whose frames are all carried: in their order; else null */
  readonly measured: readonly (readonly MeasuredFrame[] | null)[]
}

/** A picture of a candidate that is there already. */
export interface Known {
  /** Index into the candidate's frames. */
  readonly index: number
  /** Where it was kept. */
  readonly pictures: RowPictures | null
  readonly lent: ShownLent
}

/** Per candidate the frames that are carried under a plan, by index, and all that is measured of them. */
export function carriedUnder(candidates: readonly Candidate[], plan: Plan): number[][] {
  const played = new Map([...playing(candidates)].slice(0, plan.ways))
  return candidates.map((candidate) => {
    const weakest = shownFrame(candidate)
    return carriedFrames(played.get(candidate) ?? [weakest], plan.step, weakest)
  })
}

/**
 * @param within  the target frames that are asked for
 * @param onDrawn heard once per picture that is carried
 * @param kept    what was drawn before, by candidate
 * @throws as `pictures`, what failed first of the first candidate
 */
export async function carryPart(
  candidates: readonly Candidate[],
  pictures: PictureSource,
  plan: Plan,
  within: ReadonlySet<number>,
  show: Show,
  onDrawn: () => void,
  kept: ReadonlyMap<Candidate, Known> = new Map(),
): Promise<CarriedPart> {
  const known = new Map<number, CarriedTarget>()
  const limit = pLimit(AT_A_TIME)

  const drawTarget = async (match: FrameMatch, lent: ShownLent): Promise<void> => {
    if (known.has(match.target)) return
    const target = targetFrame(match.target, lent)
    known.set(match.target, { target, file: '' })
    const file = await pictureFile(show(lent.target), lent.rect, plan.coding)
    known.set(match.target, { target, file: file.toString('base64') })
  }
  const lend = async (candidate: Candidate, index: number, meter?: FrameMeter): Promise<ShownLent> => {
    const match = candidate.frames[index]
    const there = kept.get(candidate)
    const own = there?.index === index ? there : undefined
    if (meter === undefined) {
      if (own !== undefined) return own.lent
      if (pictures.lent !== undefined) return pictures.lent(candidate, match, show)
    } else if (!own?.pictures && pictures.measured !== undefined)
      return pictures.measured(candidate, match, meter, show)
    const seen = own?.pictures ?? (await pictures.pictures(candidate, match))
    meter?.add(match.target, seen)
    return own?.lent ?? shownLent(seen, show)
  }
  const carry = async (candidate: Candidate, index: number, lent: ShownLent): Promise<LentFrame> => {
    await drawTarget(candidate.frames[index], lent)
    const file = await pictureFile(lent.samples, lent.box, plan.coding)
    onDrawn()
    return { index, file: file.toString('base64') }
  }
  /** A meter takes frames in their order; what is drawn meanwhile becomes files. */
  const carryMeasured = async (
    candidate: Candidate,
    indices: readonly number[],
    meter: FrameMeter,
  ): Promise<LentFrame[]> => {
    const files: Promise<LentFrame>[] = []
    for (const [k, index] of indices.entries()) {
      const next = indices[k + 1]
      // It is read while this one is made; what fails is heard when its turn comes.
      if (next !== undefined) pictures.target?.(candidate.frames[next]).catch(() => {})
      const file = carry(candidate, index, await lend(candidate, index, meter))
      file.catch(() => {})
      files.push(file)
      await files[k - AT_A_TIME]
    }
    return Promise.all(files)
  }

  const lent: LentFrame[][] = []
  const measured: (readonly MeasuredFrame[] | null)[] = []
  // One candidate after the other, so that a failure names the first and no queue of pictures builds up.
  for (const [i, indices] of carriedUnder(candidates, plan).entries()) {
    const candidate = candidates[i]
    const mine = indices.filter((index) => within.has(candidate.frames[index].target))
    const isMeasured = i < BEST && indices.length > 1 && mine.length > 0 && candidate.moment === undefined
    const meter = isMeasured ? await pictures.meter?.() : undefined
    // What changes to the first frame is told by the one before it, which is another part's.
    const before = meter && indices[indices.indexOf(mine[0]) - 1]
    if (before !== undefined) await lend(candidate, before, meter)
    lent.push(
      meter === undefined
        ? await Promise.all(
            mine.map((index) => limit(async () => carry(candidate, index, await lend(candidate, index)))),
          )
        : await carryMeasured(candidate, mine, meter),
    )
    measured.push(meter?.measured.slice(before === undefined ? 0 : 1) ?? null)
  }
  return { targets: [...known.values()], lent, measured }
}
