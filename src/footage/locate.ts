// Finds the files that a plate's name means: a folder, one frame, a pattern, a glob or a movie file.
import { readdir, stat } from 'node:fs/promises'
import { basename, dirname, join, resolve } from 'node:path'
import { type OffcutError, plateError, printable } from '../errors.js'
import { nearMiss } from '../near-miss.js'
import { isPattern, matchPattern, type Sequence, sequencesIn, stillOf } from './naming.js'
import { extensionOf, FRAME_EXTENSIONS } from './readers.js'

/** File name endings that are read as movies, lower case, without the dot. */
export const MOVIE_EXTENSIONS: readonly string[] = ['mov', 'mp4', 'm4v', 'mxf', 'avi', 'mkv', 'webm']

/** Where a plate lies on disk. */
export type Located =
  | { readonly kind: 'frames'; readonly folder: string; readonly spec: string; readonly sequence: Sequence }
  | { readonly kind: 'movie'; readonly folder: string; readonly spec: string }

// how many sequences an error message lists before it stops
const LISTED = 20
// how many subfolders are looked into for the list that an error prints
const SUBFOLDERS = 50

/**
 * Finds a plate's files. A name that exists is taken as it stands, whatever characters it has; only then are `%04d`,
 * `#` and glob characters read as such. Hidden files and files of other kinds are passed over.
 *
 * @param spec relative to the working directory or absolute
 * @throws PLATE_NOT_FOUND, PLATE_EMPTY, PLATE_UNSUPPORTED, PLATE_AMBIGUOUS, PLATE_DUPLICATE, FOLDER_UNREADABLE
 */
export async function locatePlate(spec: string): Promise<Located> {
  if (spec === '') throw notFound('""', 'is empty', 'name a folder, a frame, a pattern or a movie file')
  const path = resolve(spec)
  const kind = await kindOf(path)
  if (kind === 'folder') return inFolder(path)
  if (kind === 'file') return byFile(path)
  if (isPattern(basename(path))) return byPattern(path)
  if (await isGlob(path)) return byGlob(path)
  const folder = dirname(path)
  if ((await kindOf(folder)) !== 'folder') throw notFound(path, 'does not exist', await firstAbsent(folder))
  const names = (await readdir(folder).catch(() => [])).filter((name) => !name.startsWith('.'))
  if (names.includes(basename(path)))
    throw notFound(
      path,
      'is neither a file nor a folder',
      "a link that leads nowhere, a pipe or a device can't be read",
    )
  throw notFound(path, 'does not exist', await meantBy(path, names))
}

async function inFolder(folder: string): Promise<Located> {
  const names = await visibleNamesIn(folder)
  const frameNames = framesAmong(names)
  const sequences = sequencesIn(frameNames)
  const running = sequences.filter((s) => s.files.size > 1)
  // single numbered pictures beside a real sequence are thumbnails and notes
  const plates = running.length > 0 ? running : sequences
  if (plates.length === 1) return framesIn(folder, plates[0]!, frameNames)
  if (plates.length > 1) throw ambiguous(folder, `${plates.length} sequences`, plates)
  const movies = names.filter((name) => MOVIE_EXTENSIONS.includes(extensionOf(name)))
  const alone = [...movies, ...frameNames].map(stillOf)
  if (alone.length > 1) throw ambiguous(folder, `${alone.length} plates`, alone)
  if (movies.length === 1) return { kind: 'movie', folder, spec: join(folder, movies[0]!) }
  if (frameNames.length === 1) return framesIn(folder, alone[0]!, frameNames)
  const below = await sequencesBelow(folder)
  if (below.length > 0) throw ambiguous(folder, 'its frames in subfolders', below)
  const kinds = `frames end in ${FRAME_EXTENSIONS.join(', ')}`
  throw plateError('PLATE_EMPTY', folder, 'holds no frames', kinds, { exitCode: 2 })
}

async function byFile(path: string): Promise<Located> {
  const folder = dirname(path)
  const extension = extensionOf(path)
  if (MOVIE_EXTENSIONS.includes(extension)) return { kind: 'movie', folder, spec: path }
  if (!FRAME_EXTENSIONS.includes(extension)) {
    const remedy = `frames end in ${FRAME_EXTENSIONS.join(', ')}, movies in ${MOVIE_EXTENSIONS.join(', ')}`
    throw plateError('PLATE_UNSUPPORTED', path, 'is not a kind of file that is read', remedy, { exitCode: 2 })
  }
  const name = basename(path)
  const names = framesAmong(await visibleNamesIn(folder))
  const holds = (s: Sequence): boolean => s.clash?.includes(name) || [...s.files.values()].includes(name)
  const sequence = sequencesIn(names).find(holds)
  if (sequence !== undefined) return framesIn(folder, sequence, names)
  // a hidden picture is named on purpose, and is a plate of its own; so is one without a number
  return framesIn(folder, sequencesIn([name])[0] ?? stillOf(name), [name], path)
}

async function byPattern(path: string): Promise<Located> {
  const folder = dirname(path)
  if ((await kindOf(folder)) !== 'folder')
    throw notFound(folder, 'is not a folder', await firstAbsent(folder))
  const names = framesAmong(await visibleNamesIn(folder))
  const sequence = matchPattern(basename(path), names)
  if (sequence === null) throw notFound(path, 'matches no frame', insteadOf(names))
  return framesIn(folder, sequence, names, path)
}

/** A name without any of these is no glob, and most have none: what finds them is not loaded then. */
const GLOB_CHARACTERS = /[*?![({\\]/

async function isGlob(path: string): Promise<boolean> {
  return GLOB_CHARACTERS.test(path) && (await import('fast-glob')).default.isDynamicPattern(path)
}

async function byGlob(path: string): Promise<Located> {
  const { default: glob } = await import('fast-glob')
  const folder = dirname(path)
  // a folder whose own name has glob characters is taken as it stands
  const literal = (await kindOf(folder)) === 'folder'
  const found = literal
    ? (await glob(basename(path), { cwd: folder })).map((name) => join(folder, name))
    : await glob(path)
  const frames = framesAmong(found)
  const movies = found.filter((file) => MOVIE_EXTENSIONS.includes(extensionOf(file)))
  if (frames.length === 0 && movies.length === 1) {
    return { kind: 'movie', folder: dirname(movies[0]!), spec: movies[0]! }
  }
  if (frames.length === 0) {
    throw notFound(path, 'matches no frame', `frames end in ${FRAME_EXTENSIONS.join(', ')}`)
  }
  const plates = [...byFolder(frames)].flatMap(([from, names]) => {
    const numbered = sequencesIn(names)
    return (numbered.length > 0 ? numbered : names.map(stillOf)).map((sequence) => ({ from, sequence }))
  })
  if (plates.length > 1) {
    const whole = plates.map(({ from, sequence }) => ({ ...sequence, name: join(from, sequence.name) }))
    throw ambiguous(path, `${plates.length} sequences`, whole)
  }
  return framesIn(plates[0]!.from, plates[0]!.sequence, [], path)
}

function byFolder(files: readonly string[]): Map<string, string[]> {
  const folders = new Map<string, string[]>()
  for (const file of files) {
    const names = folders.get(dirname(file))
    if (names) names.push(basename(file))
    else folders.set(dirname(file), [basename(file)])
  }
  return folders
}

/** @param names the folder's frame names, for finding out whether the sequence's pattern means it alone */
async function framesIn(
  folder: string,
  sequence: Sequence,
  names: readonly string[],
  spec?: string,
): Promise<Located> {
  if (sequence.clash !== null) {
    const [one, other] = sequence.clash
    const problem = `holds two files for one frame, ${printable(one)} and ${printable(other)}`
    const remedy = 'name the plate by a pattern with the padding that is meant, such as name.%04d.png'
    throw plateError('PLATE_DUPLICATE', folder, problem, remedy, { exitCode: 2 })
  }
  return { kind: 'frames', folder, sequence, spec: spec ?? (await specOf(folder, sequence, names)) }
}

/** A name that finds exactly this sequence again: its pattern where that does, else its first frame. */
async function specOf(folder: string, sequence: Sequence, names: readonly string[]): Promise<string> {
  const pattern = join(folder, sequence.name)
  const [first] = sequence.files.values()
  const again = matchPattern(sequence.name, names)
  const same = again?.name === sequence.name && again.files.size === sequence.files.size
  // a file that has # in its name would be found instead
  return same && (await kindOf(pattern)) === null ? pattern : join(folder, first!)
}

async function sequencesBelow(folder: string): Promise<Sequence[]> {
  const entries = await readdir(folder, { withFileTypes: true })
  const folders = entries.filter((e) => e.isDirectory() && !e.name.startsWith('.')).map((e) => e.name)
  const found: Sequence[] = []
  for (const name of folders.sort().slice(0, SUBFOLDERS)) {
    const inside = await visibleNamesIn(join(folder, name)).catch(() => [])
    for (const sequence of sequencesIn(framesAmong(inside)))
      found.push({ ...sequence, name: join(name, sequence.name) })
  }
  return found
}

function framesAmong(names: readonly string[]): string[] {
  return names.filter((name) => FRAME_EXTENSIONS.includes(extensionOf(name)))
}

async function visibleNamesIn(folder: string): Promise<string[]> {
  try {
    const entries = await readdir(folder, { withFileTypes: true })
    // links count as files: renders are often published as links
    const files = entries.filter((e) => e.isFile() || e.isSymbolicLink())
    return files.map((e) => e.name).filter((name) => !name.startsWith('.'))
  } catch (cause) {
    const problem = `can't be listed (${(cause as NodeJS.ErrnoException).code})`
    throw plateError('FOLDER_UNREADABLE', folder, problem, 'check that it may be read', { cause })
  }
}

async function kindOf(path: string): Promise<'folder' | 'file' | null> {
  try {
    const found = await stat(path)
    // a pipe or a device would keep its reader waiting for ever
    return found.isDirectory() ? 'folder' : found.isFile() ? 'file' : null
  } catch {
    return null
  }
}

function notFound(path: string, problem: string, remedy: string): OffcutError {
  return plateError('PLATE_NOT_FOUND', path, problem, remedy, { exitCode: 2 })
}

function ambiguous(path: string, what: string, sequences: readonly Sequence[]): OffcutError {
  const remedy = `name one of ${listed(sequences)}`
  return plateError('PLATE_AMBIGUOUS', path, `holds ${what}`, remedy, { exitCode: 2 })
}

/** Where a path leaves what is there. @param path absolute, of a folder that is not there */
async function firstAbsent(path: string): Promise<string> {
  let absent = path
  while ((await kindOf(dirname(absent))) === null && dirname(absent) !== absent) absent = dirname(absent)
  const [folder, name] = [dirname(absent), basename(absent)]
  if (name === '~')
    return 'within quotes and after = no shell puts your home folder in the place of ~: leave them away, or write it out'
  if ((await kindOf(folder)) === 'file') return `check the path, ${printable(folder)} is a file`
  const near = nearMiss(name, await readdir(folder).catch(() => []))
  const meant = near === null ? '' : `; did you mean ${printable(near)}?`
  return `check the path, ${printable(folder)} has no ${printable(name)}${meant}`
}

/** What to give instead of a name that is not there: the nearest one, else what its folder holds. */
async function meantBy(path: string, all: readonly string[]): Promise<string> {
  const names = framesAmong(await visibleNamesIn(dirname(path)))
  const numbered = new Set(sequencesIn(names).flatMap(({ files }) => [...files.values()]))
  // Of a numbered frame that is not there the neighbour is near in letters, yet what helps is the range.
  const single = all.filter((name) => !numbered.has(name))
  const near = nearMiss(basename(path), single)
  if (near !== null) return `did you mean ${printable(near)}?`
  if (numbered.size > 0) return insteadOf(names, single)
  return single.length > 0 && single.length <= LISTED
    ? `its folder holds ${single.map(printable).sort().join(', ')}`
    : 'check the path'
}

/** @param all names beside them of which single pictures and movies are told, too */
function insteadOf(names: readonly string[], all: readonly string[] = []): string {
  const sequences = sequencesIn(names)
  if (sequences.length === 0) return 'its folder holds no frames'
  const readable = [...FRAME_EXTENSIONS, ...MOVIE_EXTENSIONS]
  const single = all.filter((name) => readable.includes(extensionOf(name))).sort()
  return `its folder holds ${[listed(sequences), ...single.slice(0, LISTED).map(printable)].join(', ')}`
}

function listed(sequences: readonly Sequence[]): string {
  const lines = sequences.slice(0, LISTED).map(({ name, files }) => {
    const frames = [...files.keys()]
    const range = files.size === 1 ? '1 frame' : `${frames[0]} to ${frames.at(-1)}, ${files.size} frames`
    return `${printable(name)} (${range})`
  })
  if (sequences.length > LISTED) lines.push(`and ${sequences.length - LISTED} more`)
  return lines.join(', ')
}
