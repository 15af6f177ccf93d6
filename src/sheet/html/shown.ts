// What the page is drawn from: the result with its pictures encoded.
import type { Rect } from '../../raster/rect.js'
import type { WholeFinish } from '../../repair/finish/finish.js'
import type { Candidate, Result } from '../../search/result.js'
import type { CrossingPicture } from '../data/crossings.js'
import type { Decisions } from '../data/decisions.js'
import type { PageData } from '../data/page-data.js'
import type { PieceArea } from '../data/pieces.js'
import type { Coding } from './encode.js'

export interface ShownRow {
  readonly candidate: Candidate
  readonly rank: number
  /** index into the candidate's frames of the one in the pictures */
  readonly shown: number
  readonly rect: Rect
  readonly outline: string
  /** of a mosaic, else empty */
  readonly pieces: readonly PieceArea[]
  /** data URIs */
  readonly target: string
  readonly donor: string
  readonly repaired: string
  readonly difference: string
  /** of a borrow, else null */
  readonly ratio: string | null
  /** of a borrow: index into the candidate's frames, and the donor there */
  readonly strip: readonly { readonly index: number; readonly donor: string }[]
  /** how its repaired frames look beside the plate; null where that is not known */
  readonly finish: WholeFinish | null
}

export interface ShownCrossing extends Omit<CrossingPicture, 'picture'> {
  /** data URI */
  readonly picture: string
}

export interface Shown {
  readonly result: Result
  /** width of the plate's pixels over their height */
  readonly pixelAspect: number
  readonly rows: readonly ShownRow[]
  /** where something crosses the mask's edge */
  readonly crossings: readonly ShownCrossing[]
  readonly exposureStops: number
  /** name of the look that the pictures are seen through; null: they are shown as sRGB */
  readonly look: string | null
  /** how many plate pixels of a side are one pixel of the pictures */
  readonly factor: number
  /** the match matrix as a picture, a pixel per cell; null where the result has none, or nothing in it to compare */
  readonly matrix: string | null
  readonly decisions?: Decisions
  /** what has changed since the search */
  readonly remarks: readonly string[]
  /** how the frames are coded */
  readonly coding: Coding
  readonly data: PageData
  /** files in base64 */
  readonly targetFiles: readonly string[]
  readonly wholeFiles: readonly string[]
  /** per candidate, best first */
  readonly lentFiles: readonly (readonly string[])[]
  readonly script: string
  readonly style: string
}

/** The element id of a candidate's row. Candidate ids hold letters, figures, and - + . _ only. */
export function rowId(candidate: Candidate): string {
  return `way-${candidate.id.replace('+', 'plus')}`
}
