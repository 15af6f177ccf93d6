// Never empty all over: in every frame that may lend, one third of the region is covered, another from time to time.
import type { Rect } from '../../src/raster/rect.js'
import { randomFrom } from '../random.js'
import type { Picture } from '../resample.js'
import { cloth } from './cloth.js'
import { inRegion } from './region.js'

export interface Thirds {
  /** The direction in which the thirds follow each other, radians. */
  readonly angle: number
  /** Per frame, which third is covered: 0, 1 or 2. */
  readonly covered: readonly number[]
  /** Per frame, the number of the stretch it is in: who covers it changes with the stretch. */
  readonly stretch: readonly number[]
}

/** Frames that one stretch lasts. */
const SHORTEST = 5
const LONGEST = 20
/** Not in any third: outside of the region. */
export const NO_THIRD = 255

export function chooseThirds(frames: readonly number[], key: string): Thirds {
  const random = randomFrom(`thirds ${key}`)
  const angle = Math.PI * random()
  const covered: number[] = []
  const stretch: number[] = []
  let third = Math.floor(3 * random())
  for (let n = 0; covered.length < frames.length; n++) {
    const length = SHORTEST + Math.floor((LONGEST - SHORTEST + 1) * random())
    for (let i = 0; i < length && covered.length < frames.length; i++) {
      covered.push(third)
      stretch.push(n)
    }
    third = (third + 1 + Math.floor(2 * random())) % 3
  }
  return { angle, covered, stretch }
}

/** The third of every pixel of the region's box, row by row; three parts of equally many pixels along the angle. */
export function thirdsOf(box: Rect, angle: number): Uint8Array {
  const along = (x: number, y: number) => x * Math.cos(angle) + y * Math.sin(angle)
  const all: number[] = []
  for (let y = 0; y < box.h; y++)
    for (let x = 0; x < box.w; x++) if (inRegion(box, x, y)) all.push(along(x, y))
  const sorted = Float64Array.from(all).sort()
  const one = sorted[Math.floor(sorted.length / 3)]
  const two = sorted[Math.floor((2 * sorted.length) / 3)]
  const out = new Uint8Array(box.w * box.h).fill(NO_THIRD)
  for (let y = 0, i = 0; y < box.h; y++) {
    for (let x = 0; x < box.w; x++, i++) {
      if (!inRegion(box, x, y)) continue
      const at = along(x, y)
      out[i] = at < one ? 0 : at < two ? 1 : 2
    }
  }
  return out
}

/** Covers the third of the frame at `index` with somebody whose texture drifts. */
export function paintThird(
  target: Picture,
  box: Rect,
  { angle, covered, stretch }: Thirds,
  index: number,
  key: string,
): void {
  const who = `third ${key} ${stretch[index]}`
  const random = randomFrom(who)
  const stuff = cloth(who)
  const vx = (random() < 0.5 ? -1 : 1) * (0.5 + 2.5 * random())
  const vy = random() - 0.5
  const thirds = thirdsOf(box, angle)
  const rgb = new Float64Array(3)
  for (let y = 0, i = 0; y < box.h; y++) {
    for (let x = 0; x < box.w; x++, i++) {
      if (thirds[i] !== covered[index]) continue
      stuff.at(Math.round(x - vx * index), Math.round(y - vy * index), rgb)
      target.data.set(rgb, ((box.y + y) * target.width + box.x + x) * 3)
    }
  }
}
