// Nothing is ever written into a plate's folder, be it there yet or not where it would be.
import { realpath } from 'node:fs/promises'
import { basename, dirname, join, sep } from 'node:path'
import { OffcutError, printable } from '../../errors.js'

/** The real path a folder has or will have, whatever of it exists. */
export async function nearestReal(folder: string): Promise<string> {
  const found = await realpath(folder).catch(() => null)
  if (found !== null || dirname(folder) === folder) return found ?? folder
  return join(await nearestReal(dirname(folder)), basename(folder))
}

/**
 * @param folder where something is to be written, and `real` where that really lies
 * @param held   the footage's own folder, as it really lies
 * @throws OUTPUT_IN_FOOTAGE
 */
export function refuseWithin(folder: string, real: string, held: string, remedy: string): void {
  if (real !== held && !real.startsWith(held + sep)) return
  throw new OffcutError(
    'OUTPUT_IN_FOOTAGE',
    `${printable(folder)} lies in the footage's own folder ${printable(held)}, where nothing is ever written: ${remedy}`,
    2,
  )
}
