// The command that does what the desk would do: run as it is shown.
import { isAbsolute, relative } from 'node:path'
import { shellWord } from '../shell-word.js'
import type { Asked, PatchAsked } from './shot-state.js'

/** Files that the areas of a search were saved as; null where nothing is drawn or named. */
export interface MaskFiles {
  readonly region: string
  readonly avoid: string | null
  readonly lookIn: string | null
}

/**
 * Arguments of `offcut find`.
 *
 * @param plate  absolute, as all paths
 * @param folder the result folder that it writes
 */
export function findArguments(
  plate: string,
  asked: Asked,
  look: string | null,
  masks: MaskFiles,
  folder: string,
): string[] {
  const { aim, sign } = asked
  const borrow = aim === 'borrow'
  return [
    'find',
    plate,
    ...option('mask', masks.region),
    ...option('frames', asked.frames),
    ...option('mask-at', asked.maskAt),
    ...option('avoid', masks.avoid),
    ...option('grow', asked.grow),
    ...asked.donors.flatMap((donor) => option('donor', donor)),
    ...option('donor-frames', asked.donorFrames || null),
    ...option('not-frames', asked.notFrames || null),
    ...(borrow ? [] : asked.tries.flatMap((id) => option('try', id))),
    ...option('reach', borrow && asked.reach === 'anywhere' ? null : asked.reach),
    ...option('surround', asked.surround),
    ...option('encoding', asked.encoding === 'auto' ? null : asked.encoding),
    ...option('layer', asked.layer),
    ...option('look', look),
    ...option('keep', asked.keep),
    ...(borrow ? ['--aim', 'borrow'] : []),
    ...(borrow ? option('peak', asked.peak) : []),
    ...(borrow && sign !== null ? [`--${sign}`] : []),
    ...(borrow ? option('like', asked.like) : []),
    ...(borrow ? option('look-in', masks.lookIn) : []),
    ...(borrow ? option('offset', asked.offset?.join(',') ?? null) : []),
    ...option('out', folder),
  ]
}

/** Arguments of `offcut patch`. @param result the search's folder  @param folder what it writes; both absolute */
export function patchArguments(
  result: string,
  candidate: string,
  asked: PatchAsked,
  aim: Asked['aim'],
  folder: string,
): string[] {
  const borrow = aim === 'borrow'
  return [
    'patch',
    result,
    ...option('pick', candidate),
    ...(asked.whole ? ['--whole'] : []),
    // A whole frame is as the plate's are, and what a borrow multiplies with is EXR.
    ...(asked.format === 'exr' || asked.whole || borrow ? [] : option('format', asked.format)),
    ...option('feather', asked.feather),
    ...option('feather-side', asked.featherSide),
    ...option('nudge', asked.nudge?.join(',') ?? null),
    ...(asked.membrane ? ['--membrane'] : []),
    ...(asked.regrain ? [] : ['--no-regrain']),
    ...(borrow ? option('strength', asked.strength) : []),
    ...(borrow ? option('fade', asked.fade?.join(',') ?? null) : []),
    ...option('out', folder),
  ]
}

/** A number below 0 would be taken for an option of its own without the sign of equality. */
function option(name: string, value: string | number | null): string[] {
  if (value === null) return []
  const text = String(value)
  return text.startsWith('-') ? [`--${name}=${text}`] : [`--${name}`, text]
}

/**
 * The command as it is typed in a POSIX shell.
 *
 * @param from paths below this folder are written as they lie in it
 */
export function typed(args: readonly string[], from: string): string {
  return ['offcut', ...args.map((each) => shellWord(nearer(each, from)))].join(' ')
}

function nearer(text: string, from: string): string {
  if (!isAbsolute(text)) return text
  const below = relative(from, text)
  return below === '' ? '.' : below.startsWith('..') || isAbsolute(below) ? text : below
}
