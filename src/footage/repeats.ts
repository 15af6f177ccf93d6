// Finds frames that repeat the one before: a held frame, a duplicate that stands in for a dropped one.
import { createHash } from 'node:crypto'
import type { Frame } from '../raster/frame.js'

/** A frame and a short text that is the same for equal pictures only. */
export interface FramePrint {
  readonly frame: number
  readonly print: string
}

/** Frames `first` to `last` (all that are there between) are the same picture. */
export interface RepeatedRun {
  readonly first: number
  readonly last: number
  readonly frames: number
}

/** A print of a picture's exact samples; one grain of noise changes it. */
export function printOf(picture: Frame): string {
  const { buffer, byteOffset, byteLength } = picture.data
  return createHash('sha1')
    .update(new Uint8Array(buffer, byteOffset, byteLength))
    .digest('base64')
}

/**
 * Runs of two or more neighbouring frames with the same picture. Frames are neighbours when no frame that is there lies
 * between them: a held frame on either side of a gap counts as one run.
 *
 * @param prints in any order, each frame once
 * @returns ascending
 */
export function repeatedRuns(prints: Iterable<FramePrint>): RepeatedRun[] {
  const sorted = [...prints].sort((a, b) => a.frame - b.frame)
  const runs: RepeatedRun[] = []
  for (let start = 0, end = 1; end <= sorted.length; end++) {
    if (end < sorted.length && sorted[end]!.print === sorted[start]!.print) continue
    if (end - start > 1) {
      runs.push({ first: sorted[start]!.frame, last: sorted[end - 1]!.frame, frames: end - start })
    }
    start = end
  }
  return runs
}
