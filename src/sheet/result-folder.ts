// The result folder: the sheet, candidates.csv and result.json of a search, drawn from the footage that is open.
import { join } from 'node:path'
import { readRect } from '../footage/plate.js'
import { eachRowAsHalves } from '../footage/read-halves.js'
import { keepRects } from '../footage/read-many.js'
import type { OnProgress } from '../progress.js'
import { withFootage } from '../repair/footage.js'
import { onKeptLight, type RepairJob } from '../repair/repair.js'
import { writeResultFile } from '../search/write-result.js'
import { writeCsv } from './data/csv.js'
import type { Decisions } from './data/decisions.js'
import { DrawThreads } from './data/draw-threads.js'
import { JobPictures, type PictureSource } from './data/pictures.js'
import { type ReadWhole, wholeFrames } from './data/wholes.js'
import { writeSheet } from './sheet.js'

export interface DrawOptions {
  /** Decisions that the page opens with and prints. */
  readonly decisions?: Decisions
  readonly onProgress?: OnProgress
  readonly signal?: AbortSignal
}

/**
 * Writes sheet.html, sheet.png, candidates.csv and result.json into a folder.
 *
 * @throws as writeResultSheet
 */
export async function writeResultFolder(
  folder: string,
  job: RepairJob,
  options: DrawOptions = {},
): Promise<void> {
  await writeResultSheet(folder, job, options)
  await writeCsv(join(folder, 'candidates.csv'), job.result)
  await writeResultFile(folder, job.result)
}

/** The sheet alone, as far as it goes from what the search has kept as half floats. @throws as writeSheet and repairFrame; the abort reason when `signal` fires */
export async function writeResultSheet(
  folder: string,
  asStored: RepairJob,
  { decisions, onProgress, signal }: DrawOptions = {},
): Promise<void> {
  const job = onKeptLight(asStored)
  const { result } = job
  const remarks = job.changed.map(({ message }) => message)
  const pictures = new JobPictures(job)
  const threads = await DrawThreads.of(pictures, { signal })
  // The sheet takes as long as the search: who calls it off must not wait for it.
  const watched: PictureSource = {
    pictures(candidate, match) {
      signal?.throwIfAborted()
      return pictures.pictures(candidate, match)
    },
    target(match) {
      signal?.throwIfAborted()
      return pictures.target(match)
    },
    donor(candidate, match) {
      signal?.throwIfAborted()
      return pictures.donor(candidate, match)
    },
    lent(candidate, match, show) {
      signal?.throwIfAborted()
      return pictures.lent(candidate, match, show)
    },
    meter: () => pictures.meter(),
    measured(candidate, match, meter, show) {
      signal?.throwIfAborted()
      return pictures.measured(candidate, match, meter, show)
    },
  }
  const { viewing } = job
  const { target } = asStored
  const full = { x: 0, y: 0, w: target.width, h: target.height }
  const wholeFrame: ReadWhole = async (frame, use) => {
    signal?.throwIfAborted()
    return (await eachRowAsHalves(target, frame, use)) ? null : readRect(target, frame, full)
  }
  try {
    await withFootage(job, result.candidates, { onProgress, signal }, async () => {
      // Of a movie each whole frame would take a pass of its own; a file is read once.
      const wanted = target.streamed ? wholeFrames(result) : []
      const release = await keepRects(target, wanted, full, { onProgress, signal })
      try {
        await writeSheet(folder, result, watched, {
          decisions,
          remarks,
          viewing,
          threads,
          onProgress,
          wholeFrame,
          pixelAspect: target.pixelAspect,
        })
      } finally {
        await release()
      }
    })
  } finally {
    await threads?.close()
  }
}
