// How strong the noise within the region is on the frames nearest to the targets that show it empty. A codec keeps now more of a
// still surface, now less, and changes that slowly: those frames tell what the targets would have had, where the best donors, which
// lie nearest to the clean plate, are the ones of which it kept least.
import { readRect } from '../../footage/plate.js'
import { middleValue } from '../../match/selection.js'
import { LOCKED_PX } from '../../match/thresholds.js'
import { isShift, transformOf } from '../../raster/transform.js'
import type { Candidate, Result } from '../../search/result.js'
import type { RepairJob } from '../repair.js'
import { lendersOf } from './blend.js'

/** So many frames before the targets, and as many after them. */
const EACH_SIDE = 8
/** Fewer in all tell nothing. */
const MIN_FRAMES = 4
/** Of the match matrix: on plaza and road frames that show the region empty have 72 and more, and with somebody at their edge 65 and less. */
const MIN_QUALITY = 70

/** Frames of the target's plate, in order; none unless a stack's donors lie as they were shot, so that nothing of any is blurred. */
export function nearestEmpty({ matrix, camera, candidates, target }: Result): readonly number[] {
  const stack = candidates.find((c) => c.kind === 'stack')
  if (matrix === undefined || camera !== undefined || stack === undefined || !stands(stack)) return []
  const row = matrix.quality[matrix.targets.length >> 1]!
  const empty = matrix.donors
    .filter(({ plate }, i) => plate === 0 && (row[i] ?? 0) >= MIN_QUALITY)
    .map(({ frame }) => frame)
    .sort((a, b) => a - b)
  const before = empty.filter((frame) => frame < target.first).slice(-EACH_SIDE)
  const after = empty.filter((frame) => frame > target.last).slice(0, EACH_SIDE)
  return [...before, ...after]
}

/** Do all donors of all frames lie on the targets as they were shot? */
export function stands({ frames }: Candidate): boolean {
  return frames.every((match) =>
    lendersOf(match).every((share) => {
      const place = transformOf(share)
      return isShift(place) && Math.hypot(place[2], place[5]) <= LOCKED_PX
    }),
  )
}

/** A frame, and how strong the region's noise is on it, as `noiseLevel` has it. */
export interface NearNoise {
  readonly frame: number
  readonly level: number
}

/**
 * Of those frames.
 *
 * @returns null where too few tell
 * @throws FRAME_UNREADABLE, FRAME_MISSING from the footage
 */
export async function noiseNear(job: RepairJob): Promise<NearNoise[] | null> {
  const { region, target, result } = job
  const frames = nearestEmpty(result)
  if (frames.length < MIN_FRAMES) return null
  const inside = insideOfFirst(job)
  const found: NearNoise[] = []
  for (const frame of frames) {
    const { data } = await readRect(target, frame, region.window)
    const level = noiseLevel(greenRoots(data), inside, region.window.w)
    if (level !== null) found.push({ frame, level })
  }
  return found.length < MIN_FRAMES ? null : found
}

/** What most of them have. */
export function usualLevel(near: readonly NearNoise[]): number {
  return middleValue(near.map(({ level }) => level))
}

/** The mask of the first target frame: what is compared is told over the same pixels. */
export function insideOfFirst({ region, result }: RepairJob): Readonly<Float32Array> {
  return region.frames.get(result.target.frames[0]!)!.inside
}

/** Roots of green of interleaved linear RGB: on them photons' noise is as strong at any light. */
export function greenRoots(data: Readonly<Float32Array>): Float32Array {
  const out = new Float32Array(data.length / 3)
  for (let i = 0, j = 1; i < out.length; i++, j += 3) out[i] = Math.sqrt(Math.max(0, data[j]!))
  return out
}

/**
 * Noise of a picture over the region, relative to the light's root. J. Immerkaer, Fast Noise Variance Estimation (CVIU 1996), eq. 5:
 * a mean of absolute values, in which edges have little say.
 *
 * @param roots as greenRoots has them
 * @returns null where none of it is lit, or something is no number
 */
export function noiseLevel(
  roots: Readonly<Float32Array>,
  inside: Readonly<Float32Array>,
  width: number,
): number | null {
  const height = roots.length / width
  let [sum, light] = [0, 0]
  for (let y = 1; y < height - 1; y++)
    for (let i = y * width + 1; i < (y + 1) * width - 1; i++) {
      if (!(inside[i]! > 0)) continue
      const up = i - width
      const down = i + width
      const corners = roots[up - 1]! + roots[up + 1]! + roots[down - 1]! + roots[down + 1]!
      const sides = roots[up]! + roots[down]! + roots[i - 1]! + roots[i + 1]!
      sum += Math.abs(corners - 2 * sides + 4 * roots[i]!)
      light += roots[i]!
    }
  const level = (Math.sqrt(Math.PI / 2) * sum) / (6 * light)
  return Number.isFinite(level) ? level : null
}
