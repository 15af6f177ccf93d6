// How strong the noise within the region is on the frames nearest to the targets that show it empty. A codec keeps now more of a
// still surface, now less, and changes that slowly: those frames tell what the targets would have had, where the best donors, which
// lie nearest to the clean plate, are the ones of which it kept least.
import { readRect } from '../../footage/plate.js'
import { rootNoise } from '../../kernels/noise-level.js'
import type { Workspace } from '../../kernels/workspace.js'
import { middleValue } from '../../match/selection.js'
import { CLEAN_SHARE, LOCKED_PX } from '../../match/thresholds.js'
import { isShift, transformOf } from '../../raster/transform.js'
import type { Candidate, Result } from '../../search/result.js'
import type { RepairJob } from '../repair.js'
import { lendersOf } from './lent-donors.js'

/** So many frames before the targets, and as many after them. */
const EACH_SIDE = 8
/** Fewer in all tell nothing. */
const MIN_FRAMES = 4
/** So many frames that show the region best. */
const BEST_FRAMES = 13
/** Of the match matrix: on plaza and road frames that show the region empty have 72 and more, and with somebody at their edge 65 and less. */
const MIN_QUALITY = 70

/** Frames of the target's plate, in order; none unless a stack's donors lie as they were shot, so that nothing of any is blurred. */
export function nearestEmpty({ matrix, camera, candidates, target }: Result): readonly number[] {
  const stack = candidates.find((c) => c.kind === 'stack')
  if (matrix === undefined || camera !== undefined || stack === undefined || !stands(stack)) return []
  const empty = emptyFrames(matrix).map(({ frame }) => frame)
  const before = empty.filter((frame) => frame < target.first).slice(-EACH_SIDE)
  const after = empty.filter((frame) => frame > target.last).slice(0, EACH_SIDE)
  return [...before, ...after]
}

/** Of the target's plate those frames that show the region best, in order; none of a camera that moves, or where no candidate is empty. */
export function emptyBest({ matrix, camera, candidates }: Result): readonly number[] {
  if (matrix === undefined || camera !== undefined || !isSeenEmpty(candidates)) return []
  const best = [...emptyFrames(matrix)].sort((a, b) => b.quality - a.quality || a.frame - b.frame)
  return best
    .slice(0, BEST_FRAMES)
    .map(({ frame }) => frame)
    .sort((a, b) => a - b)
}

/** Does any frame show the region empty? A mosaic's pieces do, each for itself. */
export function isSeenEmpty(candidates: readonly Candidate[]): boolean {
  return candidates.some((c) => c.kind !== 'mosaic' && c.clean !== null && c.clean >= CLEAN_SHARE)
}

/** In order. */
export function emptyFrames({ donors, quality, targets }: NonNullable<Result['matrix']>) {
  const row = quality[targets.length >> 1]!
  return donors
    .map(({ plate, frame }, i) => ({ plate, frame, quality: row[i] ?? 0 }))
    .filter((d) => d.plate === 0 && d.quality >= MIN_QUALITY)
    .sort((a, b) => a.frame - b.frame)
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
  const { region, target, result, workspace } = job
  const frames = nearestEmpty(result)
  if (frames.length < MIN_FRAMES) return null
  const inside = insideOfFirst(job)
  const found: NearNoise[] = []
  for (const frame of frames) {
    const { data } = await readRect(target, frame, region.window)
    const level = noiseLevel(workspace, data, inside, region.window.w)
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

/**
 * Noise of a picture's green over the region, relative to the light's root: on roots photons' noise is as strong at any light. J. Immerkaer,
 * Fast Noise Variance Estimation (CVIU 1996), eq. 5: a mean of absolute values, in which edges have little say.
 *
 * @param rgb linear, interleaved
 * @returns null where none of it is lit, or something is no number
 */
export function noiseLevel(
  workspace: Workspace,
  rgb: Readonly<Float32Array>,
  inside: Readonly<Float32Array>,
  width: number,
): number | null {
  const [noise, roots] = rootNoise(workspace, { rgb, inside, width })
  const level = (Math.sqrt(Math.PI / 2) * noise) / (6 * roots)
  return Number.isFinite(level) ? level : null
}
