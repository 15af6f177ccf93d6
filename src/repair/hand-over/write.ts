// What is handed over beside the frames: patch.json, patch.csv and the retime as an OpenTimelineIO file.
import { join } from 'node:path'
import { writeWhole } from '../../footage/write/file.js'
import type { RepairJob } from '../repair.js'
import { patchCsv } from './csv.js'
import { otioText } from './otio.js'
import type { Patch } from './patch.js'

/** @throws OUTPUT_EXISTS, OUTPUT_UNWRITABLE, DISK_FULL */
export async function writeHandOver(
  folder: string,
  { target, donors }: Pick<RepairJob, 'target' | 'donors'>,
  patch: Patch,
): Promise<void> {
  await writeWhole(join(folder, 'patch.json'), `${JSON.stringify(patch, null, 1)}\n`)
  await writeWhole(join(folder, 'patch.csv'), patchCsv(patch))
  await writeWhole(join(folder, 'patch.otio'), otioText(patch, target, donors))
}
