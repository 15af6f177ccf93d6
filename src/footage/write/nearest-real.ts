// Where a folder lies that may not be there yet.
import { realpath } from 'node:fs/promises'
import { basename, dirname, join } from 'node:path'

/** The real path a folder has or will have, whatever of it exists. */
export async function nearestReal(folder: string): Promise<string> {
  const found = await realpath(folder).catch(() => null)
  if (found !== null || dirname(folder) === folder) return found ?? folder
  return join(await nearestReal(dirname(folder)), basename(folder))
}
