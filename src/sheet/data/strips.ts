// The frames that the page plays: the target once for all candidates, and what each candidate lends.
import { frame } from '../../raster/frame.js'
import { boundsOf, grow, intersect, type Rect } from '../../raster/rect.js'
import { type Lending, lentEverywhere } from './difference.js'
import { outlineOf } from './outline.js'
import type { RowPictures, Show } from './seen.js'

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

/** What a candidate lends to a target frame, as it is shown: the repaired picture inside the mask, its fit round it. */
export interface ShownLent extends Pick<RowPictures, 'rect' | 'target' | 'alpha' | 'mask'> {
  /** What the lent pictures of a target frame cover, in plate pixels. */
  readonly box: Rect
  /** 8-bit display samples over `box`. */
  readonly samples: Uint8Array
}

/** @param room lends room for so many samples, until all is shown */
export function shownLent(
  lending: Lending,
  show: Show,
  room: (length: number) => Float32Array = (length) => new Float32Array(length),
): ShownLent {
  const { rect, target, alpha, mask } = lending
  const box = intersect(grow(supportBox(alpha, rect), RING_PX), rect)
  const into = frame(box.h, box.w, 3, room(3 * box.w * box.h))
  return { rect, target, alpha, mask, box, samples: show(lentEverywhere(lending, box, into)) }
}

export function targetFrame(number: number, { rect, mask, alpha, box }: ShownLent): TargetFrame {
  const support = new Uint8Array(box.w * box.h)
  for (let y = 0, i = 0; y < box.h; y++) {
    let p = (y + box.y - rect.y) * rect.w + box.x - rect.x
    for (let x = 0; x < box.w; x++, i++, p++) support[i] = alpha[p] > 0 ? 255 : 0
  }
  return { frame: number, rect, box, outline: outlineOf(mask, rect.w, rect.h), support }
}

/** The frames that are carried of those that play, by index: every `step`th and always the weakest. */
export function carriedFrames(played: readonly number[], step: number, weakest: number): number[] {
  return played.filter((index, i) => i % step === 0 || index === weakest)
}

/** Of an alpha the same always. */
const bounds = new WeakMap<Readonly<Float32Array>, Rect | null>()

/** The smallest rectangle, in plate pixels, round all of the patch that is to be seen; the whole where there is none. */
function supportBox(alpha: Readonly<Float32Array>, rect: Rect): Rect {
  const known = bounds.get(alpha)
  const box = known === undefined ? boundsOf(alpha, rect.w) : known
  bounds.set(alpha, box)
  return box === null ? rect : { ...box, x: rect.x + box.x, y: rect.y + box.y }
}
