// result.json onto disk, whole.
import { join } from 'node:path'
import { writeWhole } from '../footage/write/file.js'
import type { Result } from './result.js'

/** Writes `result.json` into a folder. @throws OUTPUT_EXISTS, OUTPUT_UNWRITABLE, DISK_FULL */
export async function writeResultFile(folder: string, result: Result): Promise<void> {
  await writeWhole(join(folder, 'result.json'), `${JSON.stringify(result, null, 1)}\n`)
}
