// The one frame that all others are followed against.
import { OffcutError, printable } from '../errors.js'
import { framesInWords } from '../footage/frames.js'
import type { Plate } from '../footage/plate.js'
import type { Rect } from '../raster/rect.js'
import type { FrameKey } from '../shot/frame-key.js'
import { readAndSee, readEach, readOneHalf, runByRun } from './read-frames.js'
import { plateByPlate, type Run } from './read-order.js'

export interface ReferenceFrame {
  readonly frame: number
  /** Linear RGB over the rectangle, as halves. */
  readonly halves: Uint16Array
}

/**
 * Of the target's frames the one nearest to the wanted one that can be read.
 *
 * @param keys all frames of the search
 * @throws FRAMES_UNREADABLE where no target frame can be read; with the list, where the whole plate is broken
 */
export async function readReferenceFrame(
  plates: readonly Plate[],
  keys: readonly FrameKey[],
  frames: readonly number[],
  wanted: number,
  rect: Rect,
): Promise<ReferenceFrame> {
  for (const frame of [...frames].sort((a, b) => Math.abs(a - wanted) - Math.abs(b - wanted))) {
    try {
      return { frame, halves: await readOneHalf(plates[0], frame, rect) }
    } catch (cause) {
      if (!(cause instanceof OffcutError)) throw cause
    }
  }
  // Where the whole plate is broken this says so, with the list.
  const look = ({ plate, frames: some }: Run) => readAndSee(plates[plate], plate, some, rect, () => null)
  for await (const _ of readEach(plates, keys, () => runByRun(plateByPlate(plates, keys), look)));
  const which = `${printable(plates[0].name)} can be read (${framesInWords(frames)})`
  throw new OffcutError('FRAMES_UNREADABLE', `no target frame of ${which}: render or copy them again`, 1)
}
