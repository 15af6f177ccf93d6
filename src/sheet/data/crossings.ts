// Where something crosses the mask's edge: the target there, close up, with the mask's outline.
import { type Frame, frame } from '../../raster/frame.js'
import { cutSamples } from '../../raster/plane.js'
import { grow, intersect, isEmpty, type Rect, rectOf } from '../../raster/rect.js'
import type { Cut, Result } from '../../search/result.js'
import { type Still, still } from './gather.js'
import { outlinePath } from './outline.js'
import type { PictureSource } from './pictures.js'

/** More frames than this tell no more of where a mask is too small. */
const MAX_SHOWN = 3
/** Plate pixels shown round what crosses, so that the edge and what it cuts off are both seen. */
const ROOM_PX = 36
const PIXELS = 320 * 240
/** All have the same shape as far as there is room, so that they stand in a row. */
const ASPECT = 4 / 3

/** A frame of a cut. */
export interface Crossing extends Pick<Cut, 'side' | 'open'> {
  readonly frame: number
  readonly px: number
  readonly box: Rect
}

export interface CrossingPicture extends Crossing {
  /** Where in the plate the picture lies. */
  readonly rect: Rect
  /** Path data in plate pixels from the corner of the rectangle. */
  readonly outline: string
  readonly picture: Still
}

/** The frames that are shown: of every cut the one on which most is cut off, then its first and last, in order of frames. */
export function crossingsShown(cuts: readonly Cut[] = []): Crossing[] {
  const perCut = cuts.map(({ side, open, frames }) => {
    const worst = frames.reduce((a, b) => (b.px > a.px ? b : a))
    const some = [...new Set([worst, frames[0], frames[frames.length - 1]])]
    return some.map(({ frame, px, box }) => ({ side, open, frame, px, box: rectOf(box) }))
  })
  const shown: Crossing[] = []
  for (let k = 0; k < MAX_SHOWN; k++)
    for (const crossings of perCut) if (crossings[k] && shown.length < MAX_SHOWN) shown.push(crossings[k])
  return shown.sort((a, b) => a.frame - b.frame)
}

/** The pictures of a result's cuts, as bright as the others; none where no candidate has the frame. */
export async function drawCrossings(
  { cuts, candidates }: Result,
  pictures: PictureSource,
  show: (picture: Frame) => Uint8Array,
): Promise<CrossingPicture[]> {
  const out: CrossingPicture[] = []
  for (const crossing of crossingsShown(cuts)) {
    const [candidate] = candidates
    const match = candidate?.frames.find((f) => f.target === crossing.frame)
    if (match === undefined) continue
    const seen = await (pictures.target?.(match) ?? pictures.pictures(candidate, match))
    const rect = closeUp(crossing.box, seen.rect)
    if (isEmpty(rect)) continue
    const target = frame(rect.h, rect.w, 3, cutSamples(seen.target.data, seen.rect, rect, 3))
    const mask = cutSamples(seen.mask, seen.rect, rect)
    const outline = outlinePath(mask, rect.w, rect.h)
    out.push({
      ...crossing,
      rect,
      outline,
      picture: await still(show(target), rect, PIXELS),
    })
  }
  return out
}

/** What is shown round a box, of what there is. */
function closeUp(box: Rect, within: Rect): Rect {
  const { x, y, w, h } = grow(box, ROOM_PX)
  const [width, height] = [Math.max(w, Math.round(h * ASPECT)), Math.max(h, Math.round(w / ASPECT))]
  // Moved inwards where it would reach beyond.
  const start = (middle: number, size: number, low: number, room: number) =>
    Math.max(low, Math.min(Math.round(middle - size / 2), low + room - size))
  const left = start(x + w / 2, width, within.x, within.w)
  const top = start(y + h / 2, height, within.y, within.h)
  return intersect({ x: left, y: top, w: width, h: height }, within)
}
