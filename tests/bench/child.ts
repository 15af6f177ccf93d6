// One timed piece of work in a process of its own: a clean heap, an empty cache, and its own peak of memory.
import { mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { pathToFileURL } from 'node:url'
import { runLean } from '../../src/cli/engine.js'
import { openPlate, readCodeRect } from '../../src/footage/plate.js'
import { readRects } from '../../src/footage/read-many.js'
import { writeExr } from '../../src/footage/write/exr.js'
import type { Rect } from '../../src/raster/rect.js'
import { makeThenWrite } from '../../src/repair/make-then-write.js'
import { openRepair, pick } from '../../src/repair/repair.js'
import { frameName, writeCandidate } from '../../src/repair/write.js'
import { findDonors } from '../../src/search/hide/find.js'
import { readResult } from '../../src/search/result-file.js'

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
}

/** Searches and draws the sheet into a folder that is thrown away, by the built library: it has the page's script. */
export interface SheetJob {
  readonly what: 'sheet'
  readonly plate: string
  readonly box: Rect
  readonly frames: string
  readonly reach: number
}

/** Writes a candidate's patches or whole frames into a folder that is thrown away. */
export interface PatchJob {
  readonly what: 'patch'
  readonly result: string
  readonly pick: string
  readonly whole: boolean
}

/** Decodes the target frames of a result whole and packs and writes them again as they are. */
export interface CopyJob {
  readonly what: 'copy'
  readonly result: string
}

export type Job = DecodeJob | FindJob | SheetJob | PatchJob | CopyJob

export interface Done {
  readonly seconds: number
  /** Of all threads, in user and system mode together. */
  readonly processorSeconds: number
  /** Largest resident set of the process, bytes. */
  readonly peakBytes: number
  /** Something that depends on the work, so that none of it can be skipped. */
  readonly sink: string
}

process.on('message', (job: Job) => {
  // As the command does.
  runLean()
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
  const before = process.cpuUsage()
  const sink = await sinkOf(job)
  const seconds = (performance.now() - started) / 1000
  const { user, system } = process.cpuUsage(before)
  return {
    seconds,
    processorSeconds: (user + system) / 1e6,
    peakBytes: process.resourceUsage().maxRSS * 1024,
    sink,
  }
}

function sinkOf(job: Job): Promise<string> {
  switch (job.what) {
    case 'decode':
      return decode(job)
    case 'find':
      return find(job)
    case 'sheet':
      return sheet(job)
    case 'patch':
      return patch(job)
    case 'copy':
      return copy(job)
  }
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

async function find({ plate, box, frames, donorFrames, reach }: FindJob): Promise<string> {
  const result = await findDonors({ target: plate, box, frames, donorFrames, reach })
  const [best] = result.candidates
  return best ? `${best.id} ${best.score} of ${result.candidates.length}` : 'none'
}

async function sheet({ plate, box, frames, reach }: SheetJob): Promise<string> {
  const built: typeof import('../../src/index.js') = await import(pathToFileURL('dist/index.js').href)
  const result = await built.findDonors({ target: plate, box, frames, reach })
  const job = await built.openRepair(result)
  return inFolder(async (folder) => {
    await built.writeResultFolder(folder, job)
    return `${result.candidates.length} candidates`
  })
}

async function patch({ result: spec, pick: id, whole }: PatchJob): Promise<string> {
  const { result } = await readResult(spec)
  const job = await openRepair(result)
  return inFolder(async (folder) => {
    const names = await writeCandidate(job, pick(result, id), folder, { whole })
    return `${names.length} files`
  })
}

async function copy({ result: spec }: CopyJob): Promise<string> {
  const { result } = await readResult(spec)
  const { plate: folder, encoding, frames, width, height } = result.target
  const plate = await openPlate(folder, { encoding })
  const displayWindow = { x: 0, y: 0, w: width, h: height }
  return inFolder(async (out) => {
    await makeThenWrite(
      frames,
      (frame) => readCodeRect(plate, frame, displayWindow),
      async (picture, frame) => {
        await writeExr(join(out, frameName(plate, frame, 'copy', 'exr')), picture, { displayWindow })
      },
    )
    return `${frames.length} files`
  })
}

async function inFolder(work: (folder: string) => Promise<string>): Promise<string> {
  const folder = await mkdtemp(join(tmpdir(), 'offcut-bench-patch-'))
  try {
    return await work(folder)
  } finally {
    await rm(folder, { recursive: true, force: true })
  }
}
