// One timed piece of work in a process of its own: a clean heap, an empty cache, and its own peak of memory.
import { openPlate } from '../../src/footage/plate.js'
import { readRects } from '../../src/footage/read-many.js'
import type { Rect } from '../../src/raster/rect.js'
import { findDonors } from '../../src/search/hide/find.js'

/** Decodes a rectangle of the first `frames` frames as the search does, and throws the pixels away. */
export interface DecodeJob {
  readonly what: 'decode'
  readonly plate: string
  readonly frames: number
  readonly rect: Rect
}

export interface FindJob {
  readonly what: 'find'
  readonly plate: string
  readonly box: Rect
  readonly frames: string
  readonly donorFrames?: string
  readonly reach: number
  readonly keep?: number
}

export type Job = DecodeJob | FindJob

export interface Done {
  readonly seconds: number
  /** Largest resident set of the process, bytes. */
  readonly peakBytes: number
  /** Something that depends on the work, so that none of it can be skipped. */
  readonly sink: string
}

process.on('message', (job: Job) => {
  run(job).then(
    (done) => process.send!(done, () => process.exit(0)),
    (error: Error) => {
      process.stderr.write(`${error.stack}\n`)
      process.exit(1)
    },
  )
})

async function run(job: Job): Promise<Done> {
  const started = performance.now()
  const sink = job.what === 'decode' ? await decode(job) : await find(job)
  const seconds = (performance.now() - started) / 1000
  return { seconds, peakBytes: process.resourceUsage().maxRSS * 1024, sink }
}

async function decode({ plate, frames, rect }: DecodeJob): Promise<string> {
  const opened = await openPlate(plate)
  let sum = 0
  for await (const { picture, error } of readRects(opened, opened.frames.slice(0, frames), rect)) {
    if (picture === undefined) throw error
    sum += picture.data[0] + picture.data[picture.data.length - 1]
  }
  return sum.toFixed(6)
}

async function find({ plate, box, frames, donorFrames, reach, keep }: FindJob): Promise<string> {
  const result = await findDonors({ target: plate, box, frames, donorFrames, reach, keep })
  const [best] = result.candidates
  return best ? `${best.id} ${best.score} of ${result.candidates.length}` : 'none'
}
