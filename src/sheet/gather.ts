// Asks for the pictures and turns them into what a screen shows, one candidate after the other.
import type { OnProgress } from '../progress.js'
import type { Rect } from '../raster/rect.js'
import type { Candidate, Result } from '../search/result.js'
import { differencePicture, lentEverywhere } from './difference.js'
import { previewExposure, toDisplay } from './display.js'
import { weakestFrame } from './measures.js'
import { outlinePath } from './outline.js'
import type { PictureSource } from './pictures.js'

/** One frame of one candidate as 8-bit sRGB, row-major RGB, rect.w * rect.h pixels. */
export interface Row {
  readonly candidate: Candidate
  /** 1 for the best */
  readonly rank: number
  /** index into the candidate's frames of the one shown, its weakest */
  readonly shown: number
  readonly rect: Rect
  /** path data in pixels of the rectangle */
  readonly outline: string
  readonly target: Uint8Array
  readonly donor: Uint8Array
  readonly repaired: Uint8Array
  readonly difference: Uint8ClampedArray
}

export interface Gathered {
  readonly rows: readonly Row[]
  /** how much brighter than the plate every preview is shown */
  readonly exposureStops: number
}

/** The pictures of every candidate's weakest frame, best candidate first. */
export async function gather(
  result: Result,
  pictures: PictureSource,
  { onProgress }: { onProgress?: OnProgress } = {},
): Promise<Gathered> {
  const rows: Row[] = []
  let exposureStops: number | undefined
  const total = result.candidates.length
  for (const [i, candidate] of result.candidates.entries()) {
    const shown = weakestFrame(candidate)
    const match = candidate.frames[shown]
    const seen = await pictures(candidate, match)
    exposureStops ??= previewExposure(seen.target)
    const target = toDisplay(seen.target, exposureStops)
    const lent = toDisplay(lentEverywhere(seen, match.gain), exposureStops)
    rows.push({
      candidate,
      rank: i + 1,
      shown,
      rect: seen.rect,
      outline: outlinePath(seen.mask, seen.rect.w, seen.rect.h),
      target,
      donor: toDisplay(seen.donor, exposureStops),
      repaired: toDisplay(seen.repaired, exposureStops),
      difference: differencePicture(lent, target),
    })
    onProgress?.({ phase: 'drawing the sheet', done: i + 1, total })
  }
  return { rows, exposureStops: exposureStops ?? 0 }
}
