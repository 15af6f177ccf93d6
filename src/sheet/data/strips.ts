// The frames that the page plays: the target once for all candidates, and what each candidate lends.
import type { Frame } from '../../raster/frame.js'
import { boundsOf, grow, intersect, type Rect } from '../../raster/rect.js'
import type { Candidate } from '../../search/result.js'
import { type Coding, pictureFile } from '../html/encode.js'
import { lentEverywhere } from './difference.js'
import type { Show } from './gather.js'
import { outlineOf } from './outline.js'
import type { RowPictures } from './pictures.js'

/** Round the mask's box the lent picture shows the donor with its light matched, so that a misfit can be seen. */
const RING_PX = 12

/** One target frame of the page. Rectangles are in plate pixels. */
export interface TargetFrame {
  readonly frame: number
  readonly rect: Rect
  /** what the lent pictures of this frame cover */
  readonly box: Rect
  /** path data from the corner of `rect` */
  readonly outline: string
  /** box.w * box.h: 255 where the repaired picture may differ from the target, else 0 */
  readonly support: Uint8Array
}

/** What the lent pictures of a target frame cover, in plate pixels. */
export function lentBox({ rect, alpha }: Pick<RowPictures, 'rect' | 'alpha'>): Rect {
  return intersect(grow(supportBox(alpha, rect), RING_PX), rect)
}

export function targetFrame(frame: number, { rect, mask, alpha }: RowPictures): TargetFrame {
  const box = lentBox({ rect, alpha })
  const support = new Uint8Array(box.w * box.h)
  for (let y = 0, i = 0; y < box.h; y++) {
    let p = (y + box.y - rect.y) * rect.w + box.x - rect.x
    for (let x = 0; x < box.w; x++, i++, p++) support[i] = alpha[p] > 0 ? 255 : 0
  }
  return { frame, rect, box, outline: outlineOf(mask, rect.w, rect.h), support }
}

/** What a candidate lends to one frame, as a file: the repaired picture inside the mask, its fit round it. @param into scratch of the box's size */
export async function lentPicture(
  seen: RowPictures,
  box: Rect,
  show: Show,
  coding: Coding,
  into?: Frame,
): Promise<Buffer> {
  return pictureFile(show(lentEverywhere(seen, box, into)), box, coding)
}

/** The candidate's frames that are carried, by index: every `step`th and always its weakest, which is all for Infinity. */
export function carriedFrames(candidate: Candidate, step: number, weakest: number): number[] {
  const every = (i: number) => Number.isFinite(step) && i % step === 0
  return candidate.frames.flatMap((_, i) => (every(i) || i === weakest ? [i] : []))
}

/** The smallest rectangle, in plate pixels, round all of the patch that is to be seen; the whole where there is none. */
function supportBox(alpha: Readonly<Float32Array>, rect: Rect): Rect {
  const box = boundsOf(alpha, rect.w)
  return box === null ? rect : { ...box, x: rect.x + box.x, y: rect.y + box.y }
}
