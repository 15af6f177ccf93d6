// Target frames as they are typed.
import { framesInWords, parseFrames, printFrames } from '../../footage/frames.js'

/** The frames of a plate from one to another as they are typed: gaps are left out. @param frames ascending */
export function rangeText(frames: readonly number[], from: number, to: number): string {
  const [first, last] = [Math.min(from, to), Math.max(from, to)]
  const runs: [number, number][] = []
  for (const each of frames) {
    if (each < first || each > last) continue
    const run = runs[runs.length - 1]
    if (run && run[1] === each - 1) run[1] = each
    else runs.push([each, each])
  }
  return runs.map(([a, b]) => (a === b ? `${a}` : `${a}-${b}`)).join(',')
}

/** Frame numbers of what is typed; none where it says none, or nothing that can be read. */
export function framesOf(text: string): readonly number[] {
  try {
    return text.trim() === '' ? [] : parseFrames(text)
  } catch {
    return []
  }
}

/** Why a search would refuse what is typed, in a sentence; null where it would not, or nothing is typed. */
export function rangeFault(
  text: string,
  { name, frames }: { readonly name: string; readonly frames: readonly number[] },
): string | null {
  if (text.trim() === '') return null
  try {
    const there = new Set(frames)
    const absent = parseFrames(text, 'this field').filter((frame) => !there.has(frame))
    if (absent.length === 0) return null
    return `${framesInWords(absent)} ${absent.length > 1 ? 'are' : 'is'} not in ${name}, which has ${printFrames(frames)}`
  } catch (cause) {
    return (cause as Error).message
  }
}
