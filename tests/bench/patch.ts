// What patching costs: the patches of 100 frames, and the whole repaired frames, against reading and writing the same frames
// as they are with the same code.
import { mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { Rect } from '../../src/raster/rect.js'
import { findDonors } from '../../src/search/hide/find.js'
import { writeResultFile } from '../../src/search/write-result.js'
import { type Figure, processorRatio, ratio, told } from './figures.js'
import { type BenchPlate, FIRST } from './plate.js'
import { alternate } from './timing.js'

/** Share of the plate's frames that are patched, from its middle. */
const PATCHED = 100 / 120
/** Of what it costs to read and write the frames, at most. */
const MOST = 1.5

export async function patchFigures(
  plate: BenchPlate,
  box: Rect,
  reach: number,
  rounds: number,
  say: (line: string) => void,
): Promise<Figure[]> {
  const count = Math.round(plate.frames * PATCHED)
  const from = FIRST + Math.floor((plate.frames - count) / 2)
  say(`patching ${count} frames`)
  const folder = await mkdtemp(join(tmpdir(), 'offcut-bench-result-'))
  try {
    const result = await findDonors({
      target: plate.folder,
      box,
      frames: `${from}-${from + count - 1}`,
      reach,
    })
    await writeResultFile(folder, result)
    const { id, grain } = result.candidates[0]
    const job = { what: 'patch', result: folder, pick: id } as const
    const { copy, patch, whole } = await alternate(
      {
        copy: { what: 'copy', result: folder },
        patch: { ...job, whole: false },
        whole: { ...job, whole: true },
      },
      rounds,
      say,
    )
    const about = `${id}, grain ${grain?.toFixed(2)}, ${count} frames of ${plate.width} x ${plate.height}`
    return (
      [
        ['patches', patch],
        ['whole repaired frames', whole],
      ] as const
    ).flatMap(([what, timed]) => [
      {
        ...{ what: `${what} over copying the frames`, value: ratio(timed, copy), unit: 'times', most: MOST },
        detail: `${told(timed)} over ${told(copy)}, ${about}`,
      },
      {
        ...{ what: '  processor time', value: processorRatio(timed, copy), unit: 'times', most: MOST },
        detail: `${timed.leastProcessor.toFixed(2)} s over ${copy.leastProcessor.toFixed(2)} s`,
      },
    ])
  } finally {
    await rm(folder, { recursive: true, force: true })
  }
}
