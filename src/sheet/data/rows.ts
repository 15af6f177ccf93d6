// First pass over the pictures: the frame that every candidate's row shows, and how large its frames will be.
import type { ViewingTransform } from '../../colour/viewing.js'
import type { OnProgress } from '../../progress.js'
import type { Rect } from '../../raster/rect.js'
import type { Candidate, Result } from '../../search/result.js'
import { type Coding, pictureFile } from '../html/encode.js'
import type { Weigh, Weight } from './budget.js'
import { lentEverywhere } from './difference.js'
import { pictureRow, type Row, type Show, type ShownTarget, shownTarget, stripStill } from './gather.js'
import { shownFrame } from './measures.js'
import { stripFrames } from './moment.js'
import type { PictureSource, RowPictures } from './pictures.js'
import { lentBox } from './strips.js'

/** Candidates whose pictures are encoded to learn how large they get. */
const SAMPLES = 6

export interface Drawn {
  readonly rows: readonly Row[]
  /** how much brighter than the plate every preview is shown */
  readonly exposureStops: number
  readonly show: Show
  readonly weigh: Weigh
}

export async function drawRows(
  { candidates }: Result,
  pictures: PictureSource,
  factor: number,
  viewing: ViewingTransform,
  onProgress?: OnProgress,
): Promise<Drawn> {
  const rows: Row[] = []
  const samples: Sample[] = []
  let exposureStops: number | undefined
  /** By frame and place: candidates look at the same ones. */
  const targets = new Map<string, ShownTarget>()
  const show: Show = (picture) => viewing.toDisplay(picture, exposureStops)
  for (const [i, candidate] of candidates.entries()) {
    const match = candidate.frames[shownFrame(candidate)]
    const seen = await pictures.pictures(candidate, match)
    exposureStops ??= viewing.exposureOf(seen.target)
    const place = [match.target, ...Object.values(seen.rect)].join(' ')
    const target = targets.get(place) ?? (await shownTarget(seen, show))
    targets.set(place, target)
    const row = await pictureRow(candidate, i + 1, seen, target, show, factor)
    rows.push({ ...row, strip: await drawStrip(candidate, pictures, show) })
    if (i % Math.ceil(candidates.length / SAMPLES) === 0) samples.push(sampleOf(seen, target, show))
    onProgress?.({ phase: 'drawing candidates', done: i + 1, total: candidates.length })
  }
  return {
    ...{ rows, show },
    exposureStops: exposureStops ?? 0,
    weigh: (coding) => weighSamples(samples, coding),
  }
}

async function drawStrip(candidate: Candidate, pictures: PictureSource, show: Show): Promise<Row['strip']> {
  const strip: Row['strip'][number][] = []
  for (const index of stripFrames(candidate)) {
    const seen = await pictures.donor(candidate, candidate.frames[index])
    strip.push({ index, donor: await stripStill(seen, show) })
  }
  return strip
}

/** What of a row's pictures is encoded, as it is shown: kept until the page is planned, a tenth of the pictures themselves. */
interface Sample {
  readonly rect: Rect
  readonly box: Rect
  readonly target: Uint8Array
  /** Over `box`. */
  readonly lent: Uint8Array
}

function sampleOf(seen: RowPictures, { samples }: ShownTarget, show: Show): Sample {
  const box = lentBox(seen)
  return { rect: seen.rect, box, target: samples, lent: show(lentEverywhere(seen, box)) }
}

async function weighSamples(samples: readonly Sample[], coding: Coding): Promise<Weight> {
  const weights = await Promise.all(
    samples.map(async ({ rect, box, target, lent }) => ({
      target: (await pictureFile(target, rect, coding)).length,
      lent: (await pictureFile(lent, box, coding)).length,
    })),
  )
  return { target: mean(weights.map((w) => w.target)), lent: mean(weights.map((w) => w.lent)) }
}

function mean(values: readonly number[]): number {
  return values.length === 0 ? 0 : values.reduce((a, b) => a + b, 0) / values.length
}
