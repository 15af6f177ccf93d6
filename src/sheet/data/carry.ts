// Second pass over the pictures: the frames that the page plays, as far as there is room for them.
import type { OnProgress } from '../../progress.js'
import type { Rect } from '../../raster/rect.js'
import type { WholeFinish } from '../../repair/finish/finish.js'
import { finishOf } from '../../repair/finish/measured.js'
import type { Candidate } from '../../search/result.js'
import { greyUri } from '../html/encode.js'
import type { Plan } from './budget.js'
import { type CarriedPart, carriedUnder, carryPart, type Known, type LentFrame } from './carry-part.js'
import type { Box, PageMask, PageTarget } from './page-data.js'
import type { PictureSource } from './pictures.js'
import type { Show } from './seen.js'
import type { TargetFrame } from './strips.js'

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

/** Draws some of the target frames, here or elsewhere. */
export type DrawPart = (within: readonly number[], onDrawn: () => void) => Promise<CarriedPart>

/** Splits target frames into parts and has them drawn. @param here draws on this thread */
export type Spread = (
  targets: readonly number[],
  here: DrawPart,
  onDrawn: () => void,
) => Promise<CarriedPart[]>

/** @param spread parts in the order of their frames; default: all of it here @param kept as carryPart has it, for what is drawn here */
export async function carryFrames(
  candidates: readonly Candidate[],
  pictures: PictureSource,
  plan: Plan,
  show: Show,
  onProgress?: OnProgress,
  spread: Spread = async (targets, here, onDrawn) => [await here(targets, onDrawn)],
  kept?: ReadonlyMap<Candidate, Known>,
): Promise<Carried> {
  const wanted = carriedUnder(candidates, plan)
  const total = wanted.reduce((sum, indices) => sum + indices.length, 0)
  let done = 0
  const onDrawn = () => onProgress?.({ phase: 'drawing frames', done: ++done, total })
  const all = new Set(candidates.flatMap(({ frames }, i) => wanted[i].map((index) => frames[index].target)))
  const here: DrawPart = (within, onDrawn) =>
    carryPart(candidates, pictures, plan, new Set(within), show, onDrawn, kept)
  const parts = await spread(
    [...all].sort((a, b) => a - b),
    here,
    onDrawn,
  )
  const inOrder = parts.flatMap(({ targets }) => targets).sort((a, b) => a.target.frame - b.target.frame)
  return {
    ...(await maskedTargets(inOrder.map((each) => each.target))),
    targetFiles: inOrder.map((t) => t.file),
    lent: candidates.map((_, i) => parts.flatMap(({ lent }) => lent[i]).sort((a, b) => a.index - b.index)),
    finish: candidates.map((_, i) => {
      const measured = parts.flatMap((part) => part.measured[i] ?? [])
      return measured.length > 0 ? finishOf(measured).whole : null
    }),
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
