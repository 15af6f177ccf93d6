// check.html in a patch's folder, drawn from the files that lie in it.
import { join } from 'node:path'
import { framesInWords } from '../../footage/frames.js'
import { readRect } from '../../footage/plate.js'
import { writeWhole } from '../../footage/write/file.js'
import type { OnProgress } from '../../progress.js'
import { type Frame, frame } from '../../raster/frame.js'
import { rectOf } from '../../raster/rect.js'
import { withFootage } from '../../repair/footage.js'
import type { Patch, PatchFrame } from '../../repair/hand-over/patch.js'
import type { RepairJob } from '../../repair/repair.js'
import type { Candidate } from '../../search/result.js'
import { BASE64, PAGE_BYTES } from '../data/budget.js'
import { differencePicture, ratioPicture } from '../data/difference.js'
import { still } from '../data/gather.js'
import { outlinePath } from '../data/outline.js'
import type { Show } from '../data/seen.js'
import { pageAssets } from '../html/assets.js'
import { DIFFERENCE_CODING, stillUri } from '../html/encode.js'
import { checkText } from './document.js'
import type { CheckedFrame } from './frame-row.js'
import { type CheckPictures, checkPictures, layOver } from './frames.js'

/** Under a patch, linear light: a grey card. */
const GREY = 0.18
/** The whole frame is brought down to so many pixels. */
const WHOLE_PIXELS = 1280 * 720

export interface CheckOptions {
  /** What the patch is of, each with its self-check. Default: itself. */
  readonly results?: readonly Patch[]
  readonly onProgress?: OnProgress
  readonly signal?: AbortSignal
}

/**
 * Writes check.html: of every frame target, patch, result and difference; of many frames as many, evenly, as the page has
 * room for.
 *
 * @throws OUTPUT_EXISTS, OUTPUT_UNWRITABLE, DISK_FULL; FRAME_UNREADABLE of the footage
 */
export async function writeCheck(
  folder: string,
  job: RepairJob,
  candidates: readonly Candidate[],
  patch: Patch,
  { onProgress, signal, results = [patch] }: CheckOptions = {},
): Promise<void> {
  const rect = rectOf(patch.region.window)
  const middle = patch.frames[patch.frames.length >> 1]
  const look = job.viewing.look?.name
  await withFootage(job, candidates, { onProgress, signal }, async () => {
    const first = await checkPictures(folder, job, patch, middle, rect)
    const exposure = job.viewing.exposureOf(first.target)
    const show: Show = (picture) => job.viewing.toDisplay(picture, exposure)
    const drawn = await drawFrame(job, patch, middle, first, show)
    const weight = [drawn.target, drawn.laid ?? '', drawn.result, drawn.difference].join('').length
    const step = Math.ceil((patch.frames.length * weight) / (PAGE_BYTES - BASE64 * WHOLE_PIXELS))
    const chosen = patch.frames.filter((_, i) => i % step === 0)
    const frames: CheckedFrame[] = []
    for (const [i, each] of chosen.entries()) {
      signal?.throwIfAborted()
      const seen = await checkPictures(folder, job, patch, each, rect)
      frames.push(await drawFrame(job, patch, each, seen, show))
      onProgress?.({ phase: 'check page', done: i + 1, total: chosen.length })
    }
    const text = checkText({
      ...(await pageAssets('check')),
      patch,
      pixelAspect: job.target.pixelAspect,
      warnings: warningsOf(job, patch),
      checks: results.flatMap(({ candidate, check }, i) => {
        const of = results.length > 1 ? `${i + 1}: ${candidate.id}` : candidate.id
        return check === undefined ? [] : [{ of, check }]
      }),
      frames,
      whole: { target: middle.target, picture: await wholeUri(job, middle, first, show, patch) },
      seen: look === undefined ? seenAs(exposure) : `through the look ${look}`,
    })
    await writeWhole(join(folder, 'check.html'), text)
  })
}

async function drawFrame(
  { region }: RepairJob,
  { what }: Patch,
  frameOf: PatchFrame,
  { target, laid, result }: CheckPictures,
  show: Show,
): Promise<CheckedFrame> {
  const { window } = region
  const uri = async (samples: Uint8Array | Uint8ClampedArray, coding?: typeof DIFFERENCE_CODING) =>
    stillUri(await still(samples, window), coding)
  const before = show(target)
  const after = show(result)
  const inside = region.frames.get(frameOf.target)?.inside
  return {
    frame: frameOf,
    outline: inside === undefined ? '' : outlinePath(inside, window.w, window.h),
    target: await uri(before),
    laid:
      laid === null ? null : await uri(what === 'ratio' ? ratioPicture(laid.colours) : show(overGrey(laid))),
    result: await uri(after),
    difference: await uri(differencePicture(after, before), DIFFERENCE_CODING),
  }
}

function overGrey({ colours, alpha }: NonNullable<CheckPictures['laid']>): Frame {
  const out = frame(colours.shape[0], colours.shape[1], 3)
  layOver(colours, alpha!, GREY, out.data)
  return out
}

/** The plate's frame with the result in its place. */
async function wholeUri(
  { target: plate }: RepairJob,
  { target }: PatchFrame,
  { result }: CheckPictures,
  show: Show,
  { region }: Patch,
): Promise<string> {
  const full = { x: 0, y: 0, w: plate.width, h: plate.height }
  const whole = await readRect(plate, target, full)
  const [x, y, w, h] = region.window
  for (let row = 0; row < h; row++)
    whole.data.set(result.data.subarray(3 * row * w, 3 * (row + 1) * w), 3 * ((y + row) * full.w + x))
  return stillUri(await still(show(whole), full, WHOLE_PIXELS))
}

/** What reading back found, what is missing, what has changed since the search, and what the search thought of it. */
function warningsOf({ changed }: RepairJob, patch: Patch): string[] {
  return [
    ...patch.warnings,
    ...missing(patch),
    ...(patch.candidate.verdict === 'holds up' ? [] : [patch.candidate.why]),
    ...changed.map(({ message }) => message),
  ]
}

/** Frames of the range on which nothing is laid. */
export function missing({ skipped, black, candidate }: Patch): string[] {
  return [
    ...(skipped.length > 0 ? [`${candidate.id} fills no ${framesInWords(skipped)}: there is no file`] : []),
    ...(black.length > 0 ? [`the mask is black on ${framesInWords(black)}: nothing changes there`] : []),
  ]
}

function seenAs(stops: number): string {
  if (stops === 0) return 'as shot, for an sRGB display'
  return `${Math.abs(stops).toFixed(1)} stops ${stops < 0 ? 'darker' : 'brighter'} than shot`
}
