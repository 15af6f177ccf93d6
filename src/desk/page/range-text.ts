// Target frames as they are typed.
import { parseFrames } from '../../footage/frames.js'

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
