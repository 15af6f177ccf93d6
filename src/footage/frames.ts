// Frame ranges as people write them: `1001-1024`, `1001,1005,1009`, `1001-1100:2`, negative numbers included.
import { misuse } from '../errors.js'

const WANTED = 'frames such as 1001-1024, 1001,1005,1009 or 1001-1100:2'
/** A range longer than this is a slip of the keyboard, not a shot. */
const MOST_FRAMES = 1_000_000

/** @returns frame numbers, ascending, each once. @throws MISUSE */
export function parseFrames(text: string, flag = '--frames'): number[] {
  const frames = new Set<number>()
  for (const part of text.split(',')) {
    const match = /^\s*(-?\d+)(?:\s*-\s*(-?\d+)(?::(\d+))?)?\s*$/.exec(part)
    if (!match) throw misuse(flag, WANTED, text)
    const first = Number(match[1])
    const last = match[2] === undefined ? first : Number(match[2])
    const step = match[3] === undefined ? 1 : Number(match[3])
    if (step < 1 || last < first || (last - first) / step > MOST_FRAMES) throw misuse(flag, WANTED, text)
    for (let f = first; f <= last; f += step) frames.add(f)
  }
  return [...frames].sort((a, b) => a - b)
}

/** `1001-1024, 1030` for people: runs of consecutive numbers, at most a dozen of them. */
export function printFrames(frames: readonly number[]): string {
  const runs: string[] = []
  for (let i = 0; i < frames.length; ) {
    let j = i
    while (j + 1 < frames.length && frames[j + 1] === frames[j] + 1) j++
    runs.push(i === j ? `${frames[i]}` : `${frames[i]}-${frames[j]}`)
    i = j + 1
  }
  return runs.length > 12 ? `${runs.slice(0, 12).join(', ')} and more` : runs.join(', ')
}
