// What the page's script reads: one JSON block, and beside it blocks of pictures that it decodes when they are wanted.

import type { CandidateKind } from '../../search/kinds.js'
import type { Measures } from '../../search/measures.js'
import type { Verdict } from '../../search/result.js'
import type { Decision } from './decisions.js'

export type Box = readonly [x: number, y: number, w: number, h: number]

export interface PageTarget {
  readonly frame: number
  readonly rect: Box
  readonly box: Box
  /** index into `masks` */
  readonly mask: number
}

export interface PageMask {
  /** path data from the corner of a target's rect */
  readonly outline: string
  /** data URI of a grey picture of a target's box, 255 where the repaired picture may differ from the target */
  readonly support: string
}

export interface PageWay {
  readonly id: string
  /** element id of its row */
  readonly row: string
  readonly kind: CandidateKind
  /** what it does, in words */
  readonly words: string
  /** why fewer of its frames are here than there is room for, in words; null: they are not */
  readonly fewer: string | null
  readonly verdict: Verdict
  readonly score: number
  readonly donor: number
  readonly measures: Measures
  /** per carried frame, in the order of its picture block: index into `targets`, donor frame, seam */
  readonly frames: readonly (readonly [target: number, donor: number, seam: number | null])[]
  /** index into `frames` of the one to look at first: a hide's weakest, where a borrow's peak lands */
  readonly start: number
}

/** Whole frames of the plate, of some of the targets; in the order of their pictures, which may be smaller. */
interface PageWholes {
  /** in the pixels of `rect` and `box` */
  readonly size: readonly [w: number, h: number]
  /** indices into `targets` */
  readonly targets: readonly number[]
}

export interface PageData {
  readonly search: string
  readonly plate: string
  readonly first: number
  readonly last: number
  /** width of the plate's pixels over their height; absent: 1 */
  readonly pixelAspect?: number
  /** how many target frames the search has; the pictures may carry fewer */
  readonly count: number
  readonly targets: readonly PageTarget[]
  readonly masks: readonly PageMask[]
  readonly whole?: PageWholes
  readonly ways: readonly PageWay[]
  /** what had been decided when the page was written */
  readonly decisions: readonly Decision[]
}

/** Element ids of the data blocks. A picture block has a base64 WebP or JPEG file per line. */
export const DATA_ID = 'sheet-data'
export const TARGETS_ID = 'target-frames'
export const WHOLES_ID = 'whole-frames'
export function framesId(way: number): string {
  return `lent-frames-${way}`
}
