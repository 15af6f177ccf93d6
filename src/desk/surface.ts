// The surface that a borrow hunts on, as weights on the small pictures of the strip: the one that is drawn or named, or the region;
// as the search would have it.
import sharp from 'sharp'
import { parseFrames } from '../footage/frames.js'
import type { Plate } from '../footage/plate.js'
import type { Offset } from '../raster/transform.js'
import { loadMasks } from '../region/mask.js'
import { isDrawn, maskSvg, moves } from './shapes.js'
import type { Area, Shape, ShotState } from './shot-state.js'

/** What a surface is made of: another plan makes other weights. */
export interface SurfacePlan {
  readonly of: 'lookIn' | 'region'
  readonly area: Area
  /** Target frames that its masks are taken from. */
  readonly frames: readonly number[]
  /** Moves what is borrowed onto the region, plate pixels: where the region stands for the surface, it is looked for there. */
  readonly offset: Offset
}

/** Share of each small pixel that the surface covers, 0 to 1, and where it is not 0. */
export interface SurfaceWeights {
  readonly index: Uint32Array
  readonly weight: Float32Array
}

/** @returns null where nothing is drawn, or nothing is borrowed */
export function surfacePlan({ asked }: ShotState, plate: Plate): SurfacePlan | null {
  if (asked.aim !== 'borrow') return null
  const of = isDrawn(asked.lookIn) ? 'lookIn' : 'region'
  const area = asked[of]
  if (!isDrawn(area)) return null
  const [dx, dy] = of === 'region' ? (asked.offset ?? [0, 0]) : [0, 0]
  return { of, area, frames: framesOf(asked, area, plate), offset: { dx, dy } }
}

/** Frames that tell where the area lies: only those on which it may lie elsewhere. */
function framesOf(
  { frames, maskAt }: ShotState['asked'],
  { file, shapes }: Area,
  plate: Plate,
): readonly number[] {
  const first = shapes[0]?.keys[0]?.frame ?? plate.frames[0]!
  if (maskAt !== null) return [maskAt]
  if (file === null && !moves(shapes)) return [first]
  const there = new Set(plate.frames)
  const targets = parsed(frames).filter((frame) => there.has(frame))
  return targets.length > 0 ? targets : [first]
}

/** What is being typed may be no range yet. */
function parsed(frames: string): readonly number[] {
  try {
    return parseFrames(frames)
  } catch {
    return []
  }
}

/**
 * @param factor plate pixels of a side per small pixel  @param width small pixels, as `height`
 * @throws as loadMasks, of a file
 */
export async function surfaceWeights(
  { of, area, frames, offset }: SurfacePlan,
  plate: Plate,
  { width, height, factor }: { readonly width: number; readonly height: number; readonly factor: number },
): Promise<SurfaceWeights> {
  const sums = new Float32Array(width * height)
  const size = { width, height, factor }
  const masks = await masksOf(area, frames, plate)
  // Of a surface that moves the search takes the first mask, of a region all that it ever covers.
  for (const mask of of === 'lookIn' ? masks.slice(0, 1) : masks) addMask(sums, size, mask, offset)
  const index = Uint32Array.from(sums.keys()).filter((i) => sums[i]! > 0)
  return { index, weight: Float32Array.from(index, (i) => sums[i]!) }
}

/** Row-major weights over a rectangle of the plate. */
interface Weights {
  readonly x: number
  readonly y: number
  readonly w: number
  readonly h: number
  readonly data: ArrayLike<number>
  /** What counts as wholly covered. */
  readonly full: number
}

async function masksOf(
  { file, shapes }: Area,
  frames: readonly number[],
  plate: Plate,
): Promise<readonly Weights[]> {
  if (file === null) return Promise.all(frames.map((frame) => drawn(shapes, frame, plate)))
  const masks = new Set((await loadMasks(file, plate, frames)).values())
  return [...masks].filter(({ rect }) => rect.w > 0).map(({ rect, data }) => ({ ...rect, data, full: 1 }))
}

async function drawn(shapes: readonly Shape[], frame: number, { width, height }: Plate): Promise<Weights> {
  const svg = Buffer.from(maskSvg(shapes, frame, width, height))
  const data = await sharp(svg).extractChannel(0).raw().toBuffer()
  return { x: 0, y: 0, w: width, h: height, data, full: 255 }
}

/** The larger of what is there and the mask's mean over each small pixel. */
function addMask(
  sums: Float32Array,
  { width, height, factor }: { readonly width: number; readonly height: number; readonly factor: number },
  { x, y, w, h, data, full }: Weights,
  { dx, dy }: Offset,
): void {
  const own = new Float32Array(sums.length)
  const [left, top] = [x - Math.round(dx), y - Math.round(dy)]
  const share = 1 / (full * factor * factor)
  for (let row = 0, i = 0; row < h; row++) {
    const to = Math.floor((top + row) / factor)
    for (let column = 0; column < w; column++, i++) {
      const value = data[i]!
      const at = Math.floor((left + column) / factor)
      if (value > 0 && to >= 0 && to < height && at >= 0 && at < width) own[to * width + at] += value * share
    }
  }
  for (let i = 0; i < sums.length; i++) if (own[i]! > sums[i]!) sums[i] = own[i]!
}
