// What is handed over beside the frames: patch.json, patch.csv and the retime as an OpenTimelineIO file.
import { join } from 'node:path'
import type { Plate } from '../../footage/plate.js'
import { writeWhole } from '../../footage/write/file.js'
import type { RepairJob } from '../repair.js'
import { patchCsv } from './csv.js'
import { otioText, type Retimed } from './otio.js'
import type { Patch } from './patch.js'

/** @throws OUTPUT_EXISTS, OUTPUT_UNWRITABLE, DISK_FULL */
export async function writeHandOver(
  folder: string,
  { target, donors }: Pick<RepairJob, 'target' | 'donors'>,
  patch: Patch,
): Promise<void> {
  await writeWhole(join(folder, 'patch.json'), `${JSON.stringify(patch, null, 1)}\n`)
  await writeWhole(join(folder, 'patch.csv'), patchCsv(patch))
  await writeWhole(join(folder, 'patch.otio'), otioText([{ patch, donors }], target))
}

/**
 * Of several results in one sequence: a patch-1.json and patch-1.csv for the lowest and so on, and all their retimes in one file.
 *
 * @throws OUTPUT_EXISTS, OUTPUT_UNWRITABLE, DISK_FULL
 */
export async function writeHandOvers(
  folder: string,
  target: Plate,
  retimed: readonly Retimed[],
): Promise<void> {
  for (const [i, { patch }] of retimed.entries()) {
    await writeWhole(join(folder, `patch-${i + 1}.json`), `${JSON.stringify(patch, null, 1)}\n`)
    await writeWhole(join(folder, `patch-${i + 1}.csv`), patchCsv(patch))
  }
  await writeWhole(join(folder, 'patch.otio'), otioText(retimed, target))
}
