// Frame ranges as people write them: `1001-1024`, `1001,1005,1009`, `1001-1100:2`, negative numbers included.
import { misuse } from '../errors.js'

const WANTED = 'frames such as 1001-1024, 1001,1005,1009 or 1001-1100:2'
/** A range longer than this is a slip of the keyboard, not a shot. */
const MAX_FRAMES = 1_000_000
/** Beyond it the next whole number may be the same one, and file names are not read as frames either. */
const LARGEST_FRAME = 10 ** 15 - 1

/** @returns frame numbers, ascending, each once. @throws MISUSE */
export function parseFrames(text: string, flag = '`frames`'): number[] {
  const frames = new Set<number>()
  for (const part of text.split(',')) {
    const match = /^\s*(-?\d+)(?:\s*-\s*(-?\d+)(?::(\d+))?)?\s*$/.exec(part)
    if (!match) throw misuse(flag, WANTED, text)
    const first = Number(match[1])
    const last = match[2] === undefined ? first : Number(match[2])
    const step = match[3] === undefined ? 1 : Number(match[3])
    if (Math.max(Math.abs(first), Math.abs(last)) > LARGEST_FRAME)
      throw misuse(flag, 'frame numbers of at most 15 digits', text)
    if (last < first) throw misuse(flag, `ranges that go up, such as ${forwards(match)}`, text)
    if (step < 1 || (last - first) / step > MAX_FRAMES) throw misuse(flag, WANTED, text)
    for (let f = first; f <= last; f += step) frames.add(f)
    if (frames.size > MAX_FRAMES + 1) throw misuse(flag, WANTED, text)
  }
  return [...frames].sort((a, b) => a - b)
}

/** `1069-1060:2` the other way round. Refused, not turned: a digit may be missing (1001-100), or backwards be meant. */
function forwards([, first, last, step]: RegExpExecArray): string {
  return `${last}-${first}${step === undefined ? '' : `:${step}`}`
}

/** `1001-1024, 1030` for people: runs of consecutive numbers, at most a dozen of them and how many frames follow. */
export function printFrames(frames: readonly number[]): string {
  const runs: Run[] = []
  for (let i = 0; i < frames.length; ) {
    let j = i
    while (j + 1 < frames.length && frames[j + 1] === frames[j] + 1) j++
    runs.push({ first: frames[i], last: frames[j] })
    i = j + 1
  }
  return printRuns(runs)
}

/** `frame 1030`, `frames 1001-1024, 1030`: the same, named. */
export function framesInWords(frames: readonly number[]): string {
  return `frame${frames.length > 1 ? 's' : ''} ${printFrames(frames)}`
}

interface Run {
  readonly first: number
  readonly last: number
}

/** The same of runs, which are never counted out: a gap may be a billion frames long. */
export function printRuns(runs: readonly Run[]): string {
  const said = runs
    .slice(0, MAX_RUNS)
    .map(({ first, last }) => (first === last ? `${first}` : `${first}-${last}`))
  const more = runs.slice(MAX_RUNS).reduce((sum, { first, last }) => sum + last - first + 1, 0)
  return more > 0 ? `${said.join(', ')} and ${more} more` : said.join(', ')
}
const MAX_RUNS = 12
