// One picture row per candidate: its weakest frame, as a screen shows it.
import sharp from 'sharp'
import type { Rect } from '../../raster/rect.js'
import type { Candidate } from '../../search/result.js'
import { differencePicture, lentEverywhere, ratioPicture } from './difference.js'
import { shownFrame } from './measures.js'
import { outlineOf } from './outline.js'
import { type PieceArea, pieceAreas } from './pieces.js'
import type { DonorPicture, RowPictures, Show } from './seen.js'

/** The frames of a strip are small, as they only show the course of the light. */
const STRIP_PIXELS = 180 * 135
/** A row's pictures are stills to choose by; larger ones are brought down to so many pixels in all. */
const STILL_PIXELS = 480 * 360

/** 8-bit display samples, row-major RGB, w * h pixels. */
export interface Still {
  readonly w: number
  readonly h: number
  readonly samples: Uint8Array
}

export interface Row {
  readonly candidate: Candidate
  /** 1 for the best */
  readonly rank: number
  /** index into the candidate's frames of the one shown, its weakest */
  readonly shown: number
  /** where in the plate the stills lie, whole; they may be smaller */
  readonly rect: Rect
  /** path data in plate pixels from the corner of the rectangle */
  readonly outline: string
  /** of a mosaic: its pieces, in the same pixels */
  readonly pieces: readonly PieceArea[]
  readonly target: Still
  readonly donor: Still
  readonly repaired: Still
  readonly difference: Still
  /** of a borrow: the ratio in stops round mid grey */
  readonly ratio: Still | null
  /** of a borrow: the moment's frames on the target, in order, by index into the candidate's frames */
  readonly strip: readonly { readonly index: number; readonly donor: Still }[]
}

/** A target frame as it is shown. */
export interface ShownTarget {
  readonly samples: Uint8Array
  readonly still: Still
}

export async function shownTarget({ target, rect }: RowPictures, show: Show): Promise<ShownTarget> {
  const samples = show(target)
  return { samples, still: await still(samples, rect) }
}

/**
 * @param target what is seen of it
 * @param factor plate pixels of a side per pixel that was seen
 */
export async function pictureRow(
  candidate: Candidate,
  rank: number,
  seen: RowPictures,
  target: ShownTarget,
  show: Show,
  factor: number,
): Promise<Row> {
  const shown = shownFrame(candidate)
  const { rect } = seen
  const lent = show(lentEverywhere(seen))
  return {
    candidate,
    rank,
    shown,
    rect,
    outline: outlineOf(seen.mask, rect.w, rect.h),
    pieces: pieceAreas(candidate, candidate.frames[shown], rect, seen.mask, factor),
    target: target.still,
    donor: await still(show(seen.donor), rect),
    repaired: await still(show(seen.repaired), rect),
    difference: await still(differencePicture(lent, target.samples), rect),
    ratio: seen.ratio ? await still(ratioPicture(seen.ratio), rect) : null,
    strip: [],
  }
}

/** A donor on the target, as one of a strip. */
export function stripStill({ donor, rect }: DonorPicture, show: Show): Promise<Still> {
  return still(show(donor), rect, STRIP_PIXELS)
}

/** Samples as a still, brought down to so many pixels where there are more. */
export async function still(
  samples: Uint8Array | Uint8ClampedArray,
  { w, h }: Rect,
  most = STILL_PIXELS,
): Promise<Still> {
  const scale = Math.sqrt(most / (w * h))
  if (scale >= 1) return { w, h, samples: new Uint8Array(samples.buffer) }
  const size = { w: Math.max(1, Math.round(w * scale)), h: Math.max(1, Math.round(h * scale)) }
  const data = await sharp(samples, { raw: { width: w, height: h, channels: 3 } })
    .resize(size.w, size.h, { fit: 'fill', kernel: 'lanczos3' })
    .raw()
    .toBuffer()
  return { ...size, samples: data }
}
