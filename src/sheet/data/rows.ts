// First pass over the pictures: the frame that every candidate's row shows, and how large its frames will be.
import type { ViewingTransform } from '../../colour/viewing.js'
import type { OnProgress } from '../../progress.js'
import type { Candidate, Result } from '../../search/result.js'
import { type Coding, pictureFile } from '../html/encode.js'
import type { Weigh, Weight } from './budget.js'
import type { Known } from './carry-part.js'
import { pictureRow, type Row, type ShownTarget, shownTarget, stripStill } from './gather.js'
import { shownFrame } from './measures.js'
import { stripFrames } from './moment.js'
import type { PictureSource } from './pictures.js'
import { BEST } from './played.js'
import type { Show } from './seen.js'
import { type ShownLent, shownLent } from './strips.js'

/** Candidates whose pictures are encoded to learn how large they get. */
const SAMPLES = 6
/** Pixels of a window up to which the pictures of rows whose frames are measured are kept: ten megabytes each. */
const MAX_KEPT_PIXELS = 300_000

export interface Drawn {
  readonly rows: readonly Row[]
  /** how much brighter than the plate every preview is shown */
  readonly exposureStops: number
  readonly show: Show
  readonly weigh: Weigh
  /** The pictures of the rows, for who carries them among others. */
  readonly kept: ReadonlyMap<Candidate, Known>
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
  const kept = new Map<Candidate, Known>()
  let exposureStops: number | undefined
  /** By frame and place: candidates look at the same ones. */
  const targets = new Map<string, ShownTarget>()
  const show: Show = (picture, workspace) => viewing.toDisplay(picture, exposureStops, 1, workspace)
  for (const [i, candidate] of candidates.entries()) {
    const index = shownFrame(candidate)
    const match = candidate.frames[index]
    const seen = await pictures.pictures(candidate, match)
    exposureStops ??= viewing.exposureOf(seen.target)
    const place = [match.target, ...Object.values(seen.rect)].join(' ')
    const target = targets.get(place) ?? (await shownTarget(seen, show))
    targets.set(place, target)
    const row = await pictureRow(candidate, i + 1, seen, target, show, factor)
    rows.push({ ...row, strip: await drawStrip(candidate, pictures, show) })
    const lent = shownLent(seen, show)
    const isKept = i < BEST && seen.rect.w * seen.rect.h <= MAX_KEPT_PIXELS
    kept.set(candidate, { index, pictures: isKept ? seen : null, lent })
    if (i % Math.ceil(candidates.length / SAMPLES) === 0) samples.push({ target: target.samples, lent })
    onProgress?.({ phase: 'drawing candidates', done: i + 1, total: candidates.length })
  }
  return {
    ...{ rows, show, kept },
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

/** What of a row's pictures is encoded, as it is shown. */
interface Sample {
  readonly target: Uint8Array
  readonly lent: ShownLent
}

async function weighSamples(samples: readonly Sample[], coding: Coding): Promise<Weight> {
  const weights = await Promise.all(
    samples.map(async ({ target, lent: { rect, box, samples } }) => ({
      target: (await pictureFile(target, rect, coding)).length,
      lent: (await pictureFile(samples, box, coding)).length,
    })),
  )
  return { target: mean(weights.map((w) => w.target)), lent: mean(weights.map((w) => w.lent)) }
}

function mean(values: readonly number[]): number {
  return values.length === 0 ? 0 : values.reduce((a, b) => a + b, 0) / values.length
}
