// Picks windows of ten frames in which a region is truly empty, while passers-by disturb it in many other frames.
import { grow, type Rect } from '../../src/raster/rect.js'
import { randomFrom, shuffled } from '../random.js'
import type { Disturbance } from './disturbance.js'
import type { Footage } from './footage.js'
import { inRegion, REGION_HEIGHT, REGION_WIDTH } from './region.js'

/** `unsure`: a soft shadow, a fringe, less than a hand: counted neither way. */
export type Label = 'empty' | 'unsure' | 'disturbed'

export interface Window {
  /** The region's box, plate pixels. */
  readonly box: Rect
  /** The ten frame numbers, one after the other. */
  readonly frames: readonly number[]
  /** Share of the frames outside the window in which the region is disturbed. */
  readonly disturbedShare: number
}

export const WINDOW_FRAMES = 10
/** Disturbed share of all other frames: below, any donor would do; above, hardly any is left to find. */
const SHARES: readonly [low: number, high: number][] = [
  [0.12, 0.25],
  [0.25, 0.45],
  [0.45, 0.7],
]
/** Surely disturbed share of the region from which on a donor is unusable: a shoe in a 64 x 48 region. */
const DISTURBED_FROM = 0.03
/** An empty region may hold this much surely (a leaf, a compression spot) and this much perhaps. */
const EMPTY_SURELY = 0.004
const EMPTY_PERHAPS = 0.04
/** Window frames must be empty a little beyond the region too, as the camera may sway. */
export const ROUND = 8
/** Surround, reach, filter taps and sway must fit between the region and the frame's edge. */
export const FROM_EDGE = 64
const GRID = 8
/** Donors that must be left for there to be anything to find. */
const MIN_EMPTY = 20
/** Windows whose boxes share more than this much of their area would be the same case twice. */
export const OVERLAP = 0.2

/** The blocks whose middles lie in the region, its box at `box`. */
export function blocksOf({ block, width }: Disturbance, box: Rect): Int32Array {
  const out: number[] = []
  const middle = (block - 1) / 2
  for (let y = Math.floor(box.y / block); y * block < box.y + box.h; y++) {
    for (let x = Math.floor(box.x / block); x * block < box.x + box.w; x++) {
      if (inRegion(box, x * block + middle - box.x, y * block + middle - box.y)) out.push(y * width + x)
    }
  }
  return Int32Array.from(out)
}

/**
 * What is in the region in every frame, the region's box at `box`.
 *
 * @param hidden places (x, y) of the footage that something in front hides, so that nobody is seen there
 */
export function labelFrames(
  disturbance: Disturbance,
  box: Rect,
  hidden: (x: number, y: number) => boolean = () => false,
): Label[] {
  const { block, width } = disturbance
  const middle = (block - 1) / 2
  const all = blocksOf(disturbance, box)
  const blocks = all.filter(
    (b) => !hidden((b % width) * block + middle, Math.floor(b / width) * block + middle),
  )
  return labelBlocks(disturbance, blocks, all.length)
}

/** The same of a region of any outline. */
export function labelPlaces(disturbance: Disturbance, inside: (x: number, y: number) => boolean): Label[] {
  const { block, width, height } = disturbance
  const middle = (block - 1) / 2
  const blocks = Int32Array.from({ length: width * height }, (_, b) => b).filter((b) =>
    inside((b % width) * block + middle, Math.floor(b / width) * block + middle),
  )
  return labelBlocks(disturbance, blocks, blocks.length)
}

function labelBlocks({ frames }: Disturbance, blocks: Int32Array, all: number): Label[] {
  return frames.map((frame) => {
    let surely = 0
    let perhaps = 0
    for (const b of blocks) {
      if (frame[b] === 2) surely++
      else if (frame[b] === 1) perhaps++
    }
    return labelOf(surely / all, (surely + perhaps) / all)
  })
}

export function labelOf(surely: number, touched: number): Label {
  if (surely >= DISTURBED_FROM) return 'disturbed'
  return surely < EMPTY_SURELY && touched < EMPTY_PERHAPS ? 'empty' : 'unsure'
}

/**
 * As many windows as asked for, spread over light, medium and heavy traffic, no two at nearly the same place.
 *
 * @throws where the footage has no such window; fewer than asked for are returned as they are
 */
export function pickWindows(
  footage: Footage,
  disturbance: Disturbance,
  { count, seed }: { count: number; seed: string },
): Window[] {
  const all = everyWindow(footage, disturbance)
  if (all.length === 0) {
    throw new Error(
      `${footage.plate.spec} has no ${REGION_WIDTH} x ${REGION_HEIGHT} region that is empty for ${WINDOW_FRAMES} ` +
        `frames and disturbed in ${SHARES[0][0] * 100} to ${SHARES[2][1] * 100} % of the others: choose busier footage`,
    )
  }
  const random = randomFrom(`windows ${seed}`)
  const queues = SHARES.map(([low, high]) =>
    shuffled(
      all.filter((w) => w.disturbedShare >= low && w.disturbedShare < high),
      random,
    ),
  )
  const picked: Window[] = []
  // Round robin from the busiest stratum, which has the fewest.
  while (picked.length < count && queues.some((q) => q.length > 0)) {
    for (let s = queues.length - 1; s >= 0 && picked.length < count; s--) {
      let next = queues[s].pop()
      while (next && picked.some((p) => overlap(p.box, next!.box) > OVERLAP)) next = queues[s].pop()
      if (next) picked.push(next)
    }
  }
  return picked
}

/** Every box that a region may have, on a grid. */
export function places({ width, height }: Footage): Rect[] {
  const out: Rect[] = []
  for (let y = FROM_EDGE; y <= height - FROM_EDGE - REGION_HEIGHT; y += GRID) {
    for (let x = FROM_EDGE; x <= width - FROM_EDGE - REGION_WIDTH; x += GRID)
      out.push({ x, y, w: REGION_WIDTH, h: REGION_HEIGHT })
  }
  return out
}

function everyWindow(footage: Footage, disturbance: Disturbance): Window[] {
  const out: Window[] = []
  const surely = disturbance.frames.map((f) => integral(f, disturbance, (v) => v === 2))
  const touched = disturbance.frames.map((f) => integral(f, disturbance, (v) => v > 0))
  const restless = integral(disturbance.restless, disturbance, (v) => v > 0)
  for (const box of places(footage)) {
    const round = grow(box, ROUND)
    if (share(restless, disturbance, round) > 0) continue
    const labels = surely.map((s, f) =>
      labelOf(share(s, disturbance, box), share(touched[f], disturbance, box)),
    )
    const quiet = surely.map(
      (s, f) => labelOf(share(s, disturbance, round), share(touched[f], disturbance, round)) === 'empty',
    )
    const window = bestStart(footage, labels, quiet)
    if (window) out.push({ box, ...window })
  }
  return out
}

/** The first stretch of ten numbered-through frames that qualifies, starting at a place that varies with the labels. */
function bestStart(
  footage: Footage,
  labels: readonly Label[],
  quiet: readonly boolean[],
): Omit<Window, 'box'> | null {
  const n = labels.length
  const disturbed = labels.filter((l) => l === 'disturbed').length
  const empty = labels.filter((l) => l === 'empty').length
  const disturbedShare = disturbed / (n - WINDOW_FRAMES)
  const fits = disturbedShare >= SHARES[0][0] && disturbedShare <= SHARES[SHARES.length - 1][1]
  if (!fits || empty - WINDOW_FRAMES < MIN_EMPTY) return null
  const from = (disturbed * 37) % n
  for (let k = 0; k < n; k++) {
    const start = (from + k) % n
    if (start + WINDOW_FRAMES > n) continue
    const frames = footage.frames.slice(start, start + WINDOW_FRAMES)
    const through = frames[WINDOW_FRAMES - 1] - frames[0] === WINDOW_FRAMES - 1
    if (through && quiet.slice(start, start + WINDOW_FRAMES).every(Boolean)) return { frames, disturbedShare }
  }
  return null
}

/** Summed-area table, one row and column larger than the map. F. Crow, Summed-Area Tables (1984). */
function integral(map: Uint8Array, { width, height }: Disturbance, counts: (v: number) => boolean) {
  const stride = width + 1
  const sums = new Uint32Array(stride * (height + 1))
  for (let y = 0; y < height; y++) {
    let row = 0
    for (let x = 0; x < width; x++) {
      if (counts(map[y * width + x])) row++
      sums[(y + 1) * stride + x + 1] = sums[y * stride + x + 1] + row
    }
  }
  return sums
}

function share(sums: Uint32Array, { block, width }: Disturbance, box: Rect): number {
  const stride = width + 1
  const left = Math.floor(box.x / block)
  const top = Math.floor(box.y / block)
  const right = Math.ceil((box.x + box.w) / block)
  const bottom = Math.ceil((box.y + box.h) / block)
  const sum =
    sums[bottom * stride + right] -
    sums[top * stride + right] -
    sums[bottom * stride + left] +
    sums[top * stride + left]
  return sum / ((right - left) * (bottom - top))
}

export function overlap(a: Rect, b: Rect): number {
  const w = Math.min(a.x + a.w, b.x + b.w) - Math.max(a.x, b.x)
  const h = Math.min(a.y + a.h, b.y + b.h) - Math.max(a.y, b.y)
  return w > 0 && h > 0 ? (w * h) / (a.w * a.h) : 0
}
