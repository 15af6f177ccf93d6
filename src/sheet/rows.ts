// First pass over the pictures: every candidate's weakest frame, and how large its frames will be.
import type { OnProgress } from '../progress.js'
import type { FrameMatch, Result } from '../search/result.js'
import { QUALITIES, type Quality } from './budget.js'
import { previewExposure, toDisplay } from './display.js'
import { TARGET_QUALITY, webpBytes } from './encode.js'
import { pictureRow, type Row } from './gather.js'
import { weakestFrame } from './measures.js'
import type { PictureSource, RowPictures } from './pictures.js'
import { lentPicture, targetFrame } from './strips.js'

/** Candidates whose lent picture is encoded at every quality to learn how large they get. */
const SAMPLES = 6

export interface Drawn {
  readonly rows: readonly Row[]
  /** how much brighter than the plate every preview is shown */
  readonly exposureStops: number
  /** mean bytes of a target frame, and of a lent picture at each quality; 0 without candidates */
  readonly targetBytes: number
  readonly lentBytes: (quality: Quality) => number
}

export async function drawRows(
  { candidates }: Result,
  pictures: PictureSource,
  onProgress?: OnProgress,
): Promise<Drawn> {
  const rows: Row[] = []
  const sizes: Sizes[] = []
  let exposureStops: number | undefined
  for (const [i, candidate] of candidates.entries()) {
    const match = candidate.frames[weakestFrame(candidate)]
    const seen = await pictures(candidate, match)
    exposureStops ??= previewExposure(seen.target)
    rows.push(await pictureRow(candidate, i + 1, seen, exposureStops))
    if (i % Math.ceil(candidates.length / SAMPLES) === 0) sizes.push(await weigh(seen, match, exposureStops))
    onProgress?.({ phase: 'drawing candidates', done: i + 1, total: candidates.length })
  }
  return {
    rows,
    exposureStops: exposureStops ?? 0,
    targetBytes: mean(sizes.map((size) => size.target)),
    lentBytes: (quality) => mean(sizes.map((size) => size.lent.get(quality)!)),
  }
}

interface Sizes {
  readonly target: number
  readonly lent: ReadonlyMap<Quality, number>
}

async function weigh(seen: RowPictures, match: FrameMatch, exposureStops: number): Promise<Sizes> {
  const { box } = targetFrame(match.target, seen)
  const target = await webpBytes(toDisplay(seen.target, exposureStops), seen.rect, TARGET_QUALITY)
  const lent = new Map<Quality, number>()
  for (const quality of QUALITIES) {
    lent.set(quality, (await lentPicture(seen, box, exposureStops, quality)).length)
  }
  return { target: target.length, lent }
}

function mean(values: readonly number[]): number {
  return values.length === 0 ? 0 : values.reduce((a, b) => a + b, 0) / values.length
}
