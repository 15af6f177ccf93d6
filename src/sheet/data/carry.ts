// Second pass over the pictures: the frames that the page plays, as far as there is room for them.
import pLimit from 'p-limit'
import type { OnProgress } from '../../progress.js'
import type { Rect } from '../../raster/rect.js'
import type { WholeFinish } from '../../repair/finish/finish.js'
import type { Candidate, FrameMatch } from '../../search/result.js'
import { greyUri, pictureFile } from '../html/encode.js'
import type { Plan } from './budget.js'
import type { Show } from './gather.js'
import { shownFrame } from './measures.js'
import type { Box, PageMask, PageTarget } from './page-data.js'
import type { FrameMeter, PictureSource, RowPictures } from './pictures.js'
import { carriedFrames, lentPicture, type TargetFrame, targetFrame } from './strips.js'

/** Pictures asked for at a time: enough to keep a few cores busy, few enough to bound the memory. */
const AT_A_TIME = 4

/** So many candidates, the best, are measured: it takes its time, and nobody patches the tenth. */
const MEASURED = 3

export interface Carried {
  readonly targets: readonly PageTarget[]
  readonly masks: readonly PageMask[]
  /** files in base64, in the order of `targets` */
  readonly targetFiles: readonly string[]
  /** per candidate, best first: its carried frames, at least its weakest */
  readonly lent: readonly (readonly LentFrame[])[]
  /** per candidate, of the first few whose frames are all carried: how they look beside the plate */
  readonly finish: readonly (WholeFinish | null)[]
}

export interface LentFrame {
  /** index into the candidate's frames */
  readonly index: number
  /** a file in base64 */
  readonly file: string
}

export async function carryFrames(
  candidates: readonly Candidate[],
  pictures: PictureSource,
  plan: Plan,
  show: Show,
  onProgress?: OnProgress,
): Promise<Carried> {
  const known = new Map<number, { target: TargetFrame; file: string }>()
  const limit = pLimit(AT_A_TIME)
  const wanted = candidates.map((candidate, i) => {
    // Nobody plays what somebody who walks past would do to the target.
    const played = i < plan.ways && candidate.moment?.what !== 'object'
    return carriedFrames(candidate, played ? plan.step : Infinity, shownFrame(candidate))
  })
  const total = wanted.reduce((sum, indices) => sum + indices.length, 0)
  let done = 0

  const target = async (match: FrameMatch, seen: RowPictures): Promise<TargetFrame> => {
    const made = known.get(match.target)?.target ?? targetFrame(match.target, seen)
    if (!known.has(match.target)) {
      known.set(match.target, { target: made, file: '' })
      const file = await pictureFile(show(seen.target), seen.rect, plan.coding)
      known.set(match.target, { target: made, file: file.toString('base64') })
    }
    return made
  }
  const carry = async (candidate: Candidate, index: number, look?: Look): Promise<LentFrame> => {
    const match = candidate.frames[index]
    const seen = await pictures.pictures(candidate, match)
    look?.(match.target, seen)
    const { box } = await target(match, seen)
    const file = await lentPicture(seen, box, show, plan.coding)
    onProgress?.({ phase: 'drawing frames', done: ++done, total })
    return { index, file: file.toString('base64') }
  }

  const lent: LentFrame[][] = []
  const finish: (WholeFinish | null)[] = []
  // One candidate after the other, so that a failure names the first and no queue of pictures builds up.
  for (const [i, candidate] of candidates.entries()) {
    const indices = wanted[i]
    const isMeasured = i < MEASURED && indices.length > 1 && candidate.moment === undefined
    const meter = isMeasured ? await pictures.meter?.() : undefined
    const look = meter && inTurn(meter, candidate, indices)
    lent.push(await Promise.all(indices.map((index) => limit(carry, candidate, index, look))))
    finish.push(meter?.done().whole ?? null)
  }
  const inOrder = [...known.values()].sort((a, b) => a.target.frame - b.target.frame)
  return {
    ...(await maskedTargets(inOrder.map((each) => each.target))),
    targetFiles: inOrder.map((t) => t.file),
    lent,
    finish,
  }
}

type Look = (target: number, seen: RowPictures) => void

/** Pictures come as they are ready, a meter takes them in the order of the frames. */
function inTurn(meter: FrameMeter, { frames }: Candidate, indices: readonly number[]): Look {
  const order = indices.map((index) => frames[index].target)
  const waiting = new Map<number, RowPictures>()
  let next = 0
  return (target, seen) => {
    waiting.set(target, seen)
    for (let own = waiting.get(order[next]); own !== undefined; own = waiting.get(order[next])) {
      meter.add(order[next], own)
      waiting.delete(order[next++])
    }
  }
}

/** The targets with their masks beside them, each different mask once: a still mask is the same on every frame. */
async function maskedTargets(
  frames: readonly TargetFrame[],
): Promise<{ targets: PageTarget[]; masks: PageMask[] }> {
  const masks: PageMask[] = []
  const targets: PageTarget[] = []
  const known: TargetFrame[] = []
  for (const one of frames) {
    const { frame, rect, box } = one
    let mask = known.findIndex((other) => sameMask(one, other))
    if (mask < 0) {
      known.push(one)
      mask = masks.push({ support: await greyUri(one.support, box), outline: one.outline }) - 1
    }
    targets.push({ frame, rect: corners(rect), box: corners(box), mask })
  }
  return { targets, masks }
}

function sameMask(a: TargetFrame, b: TargetFrame): boolean {
  return (
    a.outline === b.outline &&
    a.box.w === b.box.w &&
    a.box.h === b.box.h &&
    Buffer.compare(a.support, b.support) === 0
  )
}

function corners({ x, y, w, h }: Rect): Box {
  return [x, y, w, h]
}
