// index.html over several results, in the folder that they share.
import { readFile } from 'node:fs/promises'
import { dirname, join, resolve, sep } from 'node:path'
import { misuse, OffcutError, printable } from '../../errors.js'
import { writeWhole } from '../../footage/write/file.js'
import { pageAssets } from '../html/assets.js'
import { INDEX_MARK, shotsText } from './document.js'
import { commonFolder, readShot, type Shot } from './shot.js'

/**
 * Writes the page and gives its path. An index that lies there is replaced, another page is not.
 *
 * @param specs folders of results, or their result.json, in the order in which they are to stand
 * @throws MISUSE (a result that is named twice), OUTPUT_IN_FOOTAGE, OUTPUT_EXISTS, and as readShot and writeWhole
 */
export async function writeShots(specs: readonly string[]): Promise<string> {
  const folders = specs.map((spec) => (spec.endsWith('.json') ? dirname(resolve(spec)) : resolve(spec)))
  const twice = folders.find((folder, i) => folders.indexOf(folder) !== i)
  if (twice !== undefined) throw misuse('--index', 'each result once', twice)
  const into = commonFolder(folders)
  const path = join(into, 'index.html')
  const there = await readFile(path, 'utf8').catch(() => null)
  if (there !== null && !there.includes(`content="${INDEX_MARK}"`)) {
    throw new OffcutError(
      'OUTPUT_EXISTS',
      `${printable(path)} is no index of offcut's: move it away first`,
      1,
    )
  }
  const { style } = await pageAssets('shots')
  const shots: Shot[] = []
  // A sheet may have twelve megabytes: one after the other.
  for (const spec of specs) shots.push(await readShot(spec, into))
  refuseFootage(into, shots)
  await writeWhole(path, shotsText(shots, style), { overwrite: there !== null })
  return path
}

/** Nothing is ever written where footage lies. */
function refuseFootage(into: string, shots: readonly Shot[]): void {
  for (const { result } of shots) {
    for (const { plate } of [result.target, ...result.donors]) {
      const held = dirname(resolve(plate))
      if (into !== held && !into.startsWith(held + sep)) continue
      throw new OffcutError(
        'OUTPUT_IN_FOOTAGE',
        `the index would lie in ${printable(into)}, the footage's own folder, where nothing is ever written: keep results elsewhere`,
        2,
      )
    }
  }
}
