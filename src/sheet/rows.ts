// First pass over the pictures: every candidate's weakest frame, and how large its frames will be.
import type { OnProgress } from '../progress.js'
import type { FrameMatch, Result } from '../search/result.js'
import type { MeanBytes } from './budget.js'
import { previewExposure, toDisplay } from './display.js'
import { CODINGS, type Coding, pictureFile } from './encode.js'
import { pictureRow, type Row } from './gather.js'
import { weakestFrame } from './measures.js'
import type { PictureSource, RowPictures } from './pictures.js'
import { lentPicture, targetFrame } from './strips.js'

/** Candidates whose pictures are encoded every way to learn how large they get. */
const SAMPLES = 6

export interface Drawn {
  readonly rows: readonly Row[]
  /** how much brighter than the plate every preview is shown */
  readonly exposureStops: number
  /** of a target frame, and of what is lent to one; 0 without candidates */
  readonly targetBytes: MeanBytes
  readonly lentBytes: MeanBytes
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
    targetBytes: (coding) => mean(sizes.map((size) => size.get(coding)!.target)),
    lentBytes: (coding) => mean(sizes.map((size) => size.get(coding)!.lent)),
  }
}

type Sizes = ReadonlyMap<Coding, { readonly target: number; readonly lent: number }>

async function weigh(seen: RowPictures, match: FrameMatch, exposureStops: number): Promise<Sizes> {
  const { box } = targetFrame(match.target, seen)
  const target = toDisplay(seen.target, exposureStops)
  const sizes = new Map<Coding, { target: number; lent: number }>()
  for (const coding of CODINGS) {
    const files = [
      await pictureFile(target, seen.rect, coding),
      await lentPicture(seen, box, exposureStops, coding),
    ]
    sizes.set(coding, { target: files[0].length, lent: files[1].length })
  }
  return sizes
}

function mean(values: readonly number[]): number {
  return values.length === 0 ? 0 : values.reduce((a, b) => a + b, 0) / values.length
}
