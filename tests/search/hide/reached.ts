// How near a candidate comes to what was planted, in the numbers that its own expectation speaks of.
import { type Plate, readRect } from '../../../src/footage/plate.js'
import type { Rect } from '../../../src/raster/rect.js'
import { repairFrame } from '../../../src/repair/hide/hide-pass.js'
import { openRepair } from '../../../src/repair/repair.js'
import type { Candidate, Result } from '../../../src/search/result.js'
import { srgbOf } from '../../codes.js'

/**
 * @param bare the plate without anybody in front
 * @param box  pixels that are looked at, on all frames of the candidate
 * @returns peak signal to noise of display luminance, dB
 */
export async function reachedBy(
  result: Result,
  candidate: Candidate,
  bare: Plate,
  box: Rect,
): Promise<number> {
  const job = await openRepair(result)
  let sum = 0
  for (const match of candidate.frames) {
    const { repaired, rect } = await repairFrame(job, candidate, match, { addGrain: false })
    const truth = (await readRect(bare, match.target, rect)).data
    for (let y = box.y; y < box.y + box.h; y++)
      for (let x = box.x; x < box.x + box.w; x++) {
        const i = 3 * ((y - rect.y) * rect.w + x - rect.x)
        sum += (shown(repaired.data, i) - shown(truth, i)) ** 2
      }
  }
  job.close()
  return -10 * Math.log10(sum / (box.w * box.h * candidate.frames.length))
}

/** Display luminance: BT.709, IEC 61966-2-1. */
function shown(rgb: Readonly<Float32Array>, i: number): number {
  return srgbOf(0.2126 * rgb[i] + 0.7152 * rgb[i + 1] + 0.0722 * rgb[i + 2])
}
