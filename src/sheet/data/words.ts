// How the sheet says things: the outcome, a candidate's name in plain words, a verdict's mark.
import { printFrames } from '../../footage/frames.js'
import type { Candidate, Moment, Result, Verdict } from '../../search/result.js'
import { plain } from './measures.js'

/** A mark per verdict that survives black-and-white print: full, half, empty. */
export const VERDICT_MARK: Readonly<Record<Verdict, string>> = {
  'holds up': '●',
  'needs work': '◐',
  'will not hold': '○',
}

/** "3 frames", "1 frame". */
export function count(n: number, one: string, many = `${one}s`): string {
  return `${n} ${n === 1 ? one : many}`
}

export function capital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1)
}

/** What a candidate does, as one would say it over the shoulder: "frame 1184 held", "the same 123 frames later, 1183 to 1192". */
export function inWords(candidate: Candidate): string {
  const { kind, timeOffset, frames, moment } = candidate
  if (moment) return momentInWords(moment, timeOffset ?? 0)
  const first = frames[0].donor
  const last = frames[frames.length - 1].donor
  switch (kind) {
    case 'hold':
      return heldInWords(first)
    case 'run':
      return runInWords(timeOffset ?? 0, first, last)
    case 'mirror':
      return mirrorInWords(first, last)
    case 'relay':
      return `a donor per frame, ${changesInWords(frames)}`
    case 'stack': {
      const most = Math.max(...frames.map((f) => f.stack?.length ?? 1))
      return `the mean of ${count(most, 'donor')}`
    }
    case 'mosaic':
      return `each part from one of ${count(frames[0].pieces?.length ?? 0, 'donor')} that is empty there`
  }
}

/** "1 change, dissolved", "3 changes, 2 of them dissolved", "2 cuts". */
function changesInWords(frames: Candidate['frames']): string {
  const changes = frames.flatMap((f, i) => (i > 0 && f.donor !== frames[i - 1].donor ? [i] : []))
  const dissolved = changes.filter((i) => frames[i].stack || frames[i - 1].stack).length
  if (dissolved === 0) return count(changes.length, 'cut')
  const which = dissolved === changes.length ? 'dissolved' : `${dissolved} of them dissolved`
  return `${count(changes.length, 'change')}, ${which}`
}

/** A candidate that is known by its id alone, in the words of inWords as far as the id tells; else the id. */
export function idInWords(id: string, { target, donors }: Pick<Result, 'target' | 'donors'>): string {
  const named = /^(hold-|run|mirror-)(-?\+?\d+)(?:\.p(\d+))?$/.exec(id)
  if (named === null) return id
  const [, kind, figures, plate] = named
  const number = Number(figures)
  const { first, last } = target
  const words =
    kind === 'hold-'
      ? heldInWords(number)
      : kind === 'run'
        ? runInWords(number, first + number, last + number)
        : mirrorInWords(number - first, number - last)
  return plate === undefined ? words : `${words}, of ${donors[Number(plate) - 1]?.plate ?? `plate ${plate}`}`
}

function heldInWords(frame: number): string {
  return `frame ${frame} held`
}

function runInWords(offset: number, first: number, last: number): string {
  if (offset === 0) return 'the same frames'
  return `the same ${count(Math.abs(offset), 'frame')} ${offset > 0 ? 'later' : 'earlier'}, ${first} to ${last}`
}

function mirrorInWords(first: number, last: number): string {
  return `played backwards, ${first} to ${last}`
}

/** "0.62 stops darker, 1071 to 1086, its peak 1078 on 1064". */
function momentInWords(moment: Moment, timeOffset: number): string {
  const change =
    moment.what === 'object'
      ? 'something passing'
      : `${plain(Math.abs(moment.depthStops), 2)} stops ${moment.sign}`
  return `${change}, ${moment.start} to ${moment.end}, its peak ${moment.peak} on ${moment.peak - timeOffset}`
}

/** ", grown by 4 px"; nothing where the region is as it was given. */
export function grownWords({ grow = 0 }: Result['region']): string {
  return grow === 0 ? '' : `, ${grow > 0 ? 'grown' : 'shrunk'} by ${Math.abs(grow)} px`
}

/** "frames 1060 to 1069", "frame 1060". */
export function frameSpan(first: number, last: number): string {
  return first === last ? `frame ${first}` : `frames ${first} to ${last}`
}

/** Which frames of a donor plate could lend: "frames 1001 to 1240", "20 of its 240 frames, as asked: 1101-1120". */
export function donorSpan({ first, last, frames, asked }: Result['donors'][number]): string {
  if (asked === undefined) return frameSpan(first, last)
  const some = asked.length === 0 ? 'none' : String(asked.length)
  const which = asked.length === 0 ? '' : `: ${printFrames(asked)}`
  return `${some} of its ${count(frames, 'frame')}, as asked${which}`
}

/** Whether a pair in the match matrix could be compared, other than of the target's own frames among each other. */
export function compares({ matrix, target }: Result): boolean {
  if (!matrix) return false
  const own = new Set(target.frames)
  const others = matrix.donors.map(({ plate, frame }) => plate > 0 || !own.has(frame))
  return matrix.quality.some((row) => row.some((quality, i) => quality !== null && others[i]))
}

/** What stands in the place of the candidates where there are none. */
export function nothing(result: Result): string {
  if (result.aim === 'borrow') return 'No candidate.'
  return compares(result)
    ? 'No candidate: no donor fills the whole range.'
    : 'No candidate: no other frame could be compared with the target.'
}

/** How the search went, in one sentence: what holds up, what needs work, and apart from both what will not hold. */
export function outcome(result: Result): string {
  const { aim, candidates } = result
  const one = aim === 'borrow' ? 'moment' : 'way'
  // What walks through is listed, but it is no way to do anything.
  const ways = candidates.filter((c) => c.moment?.what !== 'object')
  if (ways.length === 0) {
    return aim === 'borrow'
      ? 'No shadow or reflection to borrow was found'
      : 'No frame that could lend this region was found'
  }
  const number = (verdict: Verdict) => ways.filter((c) => c.verdict === verdict).length
  const [held, work, not] = [number('holds up'), number('needs work'), number('will not hold')]
  if (held + work === 0) {
    return not === 1 ? `The one ${one} found will not hold` : `None of the ${not} ${one}s found will hold`
  }
  const span = filledSpan(result, ways)
  const good = held === 1 ? `One ${one} holds up ${span}` : `${held} ${one}s hold up ${span}`
  const poor = work === 1 ? 'needs work' : 'need work'
  const lead =
    held === 0
      ? `No ${one} holds up as it is, ${work} ${poor}`
      : work === 0
        ? good
        : `${good}, ${work} ${poor}`
  return not === 0 ? lead : `${lead}; ${not} will not hold`
}

/** Over how many of the target frames: one that can't be read is filled by nobody. */
function filledSpan({ target }: Result, ways: readonly Candidate[]): string {
  const { length } = target.frames
  if (length === 1) return 'on the frame'
  const filled = new Set<number>()
  for (const { frames } of ways) for (const { target: frame } of frames) filled.add(frame)
  return filled.size < length ? `over ${filled.size} of ${length} frames` : `over all ${length} frames`
}

/** Where the donor lies against the target, as a span where it changes over the range. */
export function offsetSpan(values: readonly number[], digits = 2): string {
  const low = Math.min(...values)
  const high = Math.max(...values)
  const ends = [plain(low, digits, true), plain(high, digits, true)]
  return ends[0] === ends[1] ? ends[0] : `${ends[0]} to ${ends[1]}`
}
