// A mask grown or shrunk by a disk, before anything else is made of it: flat grey-scale dilation and erosion (J. Serra,
// Image Analysis and Mathematical Morphology, 1982), so that partial weights stay what they are along an edge. Each row of
// the disk is a running maximum in three comparisons a pixel, however wide (M. van Herk, Pattern Recognition Letters 1992).
import { misuse, OffcutError, option } from '../errors.js'
import { grow, intersect, isEmpty } from '../raster/rect.js'
import { type Mask, trimmed } from './mask.js'

interface Size {
  readonly width: number
  readonly height: number
}

/**
 * @param growPx whole pixels; below 0 shrinks, absent and 0 leave the masks as they are
 * @returns masks of the same frames; frames that share a mask go on sharing it
 * @throws MISUSE outside half of the plate's shorter side; MASK_EMPTY where nothing of any mask is left
 */
export function grownMasks(
  masks: ReadonlyMap<number, Mask>,
  growPx: number | undefined,
  plate: Size,
): ReadonlyMap<number, Mask> {
  if (growPx === undefined || growPx === 0) return masks
  const most = Math.floor(Math.min(plate.width, plate.height) / 2)
  if (!Number.isInteger(growPx) || Math.abs(growPx) > most) {
    const range = `whole pixels from -${most} to ${most} on this plate of ${plate.width} x ${plate.height}`
    throw misuse(option('grow'), range, growPx)
  }
  const made = new Map<Mask, Mask>()
  for (const mask of new Set(masks.values())) made.set(mask, grownMask(mask, growPx, plate))
  if ([...made.values()].every(({ rect }) => isEmpty(rect))) {
    const problem = `${option('grow')} ${growPx} leaves nothing of the mask on any frame: shrink it by less`
    throw new OffcutError('MASK_EMPTY', problem, 2)
  }
  return new Map([...masks].map(([frame, mask]) => [frame, made.get(mask)!]))
}

/** The plate's edge is no edge of the mask: a shape that runs off the frame is shrunk on its other sides only. */
function grownMask(mask: Mask, growPx: number, { width, height }: Size): Mask {
  if (isEmpty(mask.rect)) return mask
  const radius = Math.abs(growPx)
  const rect = intersect(grow(mask.rect, radius), { x: 0, y: 0, w: width, h: height })
  const shrinks = growPx < 0
  const from = new Float32Array(rect.w * rect.h).fill(shrinks ? 1 : 0)
  for (let y = 0; y < mask.rect.h; y++) {
    const to = (mask.rect.y - rect.y + y) * rect.w + mask.rect.x - rect.x
    for (let x = 0; x < mask.rect.w; x++) {
      const value = mask.data[y * mask.rect.w + x]
      from[to + x] = shrinks ? 1 - value : value
    }
  }
  const out = maximumOverDisk(from, rect.w, rect.h, radius)
  if (shrinks) for (let i = 0; i < out.length; i++) out[i] = 1 - out[i]
  return trimmed({ rect, data: out })
}

/** @param values 0 or more */
function maximumOverDisk(
  values: Readonly<Float32Array>,
  width: number,
  height: number,
  radius: number,
): Float32Array {
  const out = new Float32Array(values.length)
  const half = (down: number) => Math.floor(Math.sqrt(radius * radius - down * down))
  // A row of the disk as wide as another one needs no second running maximum.
  const rows = new Map<number, number[]>()
  for (let down = -radius; down <= radius; down++)
    rows.set(half(down), [...(rows.get(half(down)) ?? []), down])
  const widest = width + 2 * radius
  const [forwards, backwards, line] = [0, 1, 2].map(() => new Float32Array(widest))
  for (const [reach, downs] of rows) {
    for (let y = 0; y < height; y++) {
      runningMaximum(values, y * width, width, reach, forwards, backwards, line)
      for (const down of downs) {
        const to = y + down
        if (to < 0 || to >= height) continue
        for (let x = 0, i = to * width; x < width; x++, i++) if (line[x] > out[i]) out[i] = line[x]
      }
    }
  }
  return out
}

/**
 * The maximum over `reach` samples either side, of a line with zeros beyond its ends.
 *
 * @param forwards, backwards scratch, as long as the line and twice the reach
 */
function runningMaximum(
  values: Readonly<Float32Array>,
  start: number,
  length: number,
  reach: number,
  forwards: Float32Array,
  backwards: Float32Array,
  out: Float32Array,
): void {
  const block = 2 * reach + 1
  const all = length + 2 * reach
  const at = (i: number) => (i < reach || i >= length + reach ? 0 : values[start + i - reach])
  for (let i = 0; i < all; i++) {
    const value = at(i)
    forwards[i] = i % block === 0 ? value : Math.max(forwards[i - 1], value)
  }
  for (let i = all - 1; i >= 0; i--) {
    const value = at(i)
    backwards[i] = i === all - 1 || (i + 1) % block === 0 ? value : Math.max(backwards[i + 1], value)
  }
  for (let x = 0; x < length; x++) out[x] = Math.max(backwards[x], forwards[x + 2 * reach])
}
