// Masks that are drawn as a numbered SVG a frame: which files they are.
import { readdir, stat } from 'node:fs/promises'
import { basename, dirname, join, resolve } from 'node:path'
import { plateError, printable } from '../errors.js'
import { isPattern, matchPattern, sequencesIn } from '../footage/naming.js'
import type { Plate } from '../footage/plate.js'
import { extensionOf, FRAME_EXTENSIONS } from '../footage/readers.js'

/** Where the masks of a sequence lie. */
export type MaskFiles = Pick<Plate, 'spec' | 'format' | 'frames' | 'pathOf'>

/** A folder of numbered SVGs and of no frames, or such by a pattern; null where it is none. @throws MASK_AMBIGUOUS */
export async function drawnSequence(spec: string): Promise<MaskFiles | null> {
  const path = resolve(spec)
  const isFolder = (await stat(path).catch(() => null))?.isDirectory() === true
  if (!isFolder && !(extensionOf(path) === 'svg' && isPattern(basename(path)))) return null
  const folder = isFolder ? path : dirname(path)
  const names = (await readdir(folder).catch(() => [])).filter((name) => !name.startsWith('.'))
  const drawn = names.filter((name) => extensionOf(name) === 'svg')
  if (isFolder && names.some((name) => FRAME_EXTENSIONS.includes(extensionOf(name)))) return null
  const found = isFolder
    ? sequencesIn(drawn)
    : [matchPattern(basename(path), drawn)].filter((s) => s !== null)
  if (found.length === 0) return null
  const [{ files, clash }] = found
  if (found.length > 1 || clash !== null) {
    const several = clash ?? found.map(({ name }) => name)
    const problem = `holds more than one sequence of SVGs (${several.map(printable).join(', ')})`
    throw plateError('MASK_AMBIGUOUS', path, problem, 'name one by its pattern, such as mask.####.svg', {
      exitCode: 2,
    })
  }
  return {
    spec: path,
    format: 'svg',
    frames: [...files.keys()],
    pathOf: (frame) => join(folder, files.get(frame)!),
  }
}
