// The light of every frame from the whole width of the plate beside the region. A shadow may cover the region's surround
// too; it seldom covers most of the frame. Read on the way: a file gives its full rows as cheaply as a part of them.
import { LUMINANCE_WEIGHTS } from '../colour/luminance.js'
import type { Workspace } from '../kernels/workspace.js'
import { agreeingGroup, mean } from '../match/agreeing-group.js'
import { cleanPlateSteps } from '../match/clean-plate.js'
import { INVALID, LOG_FLOOR, VALID } from '../match/log-luminance.js'
import { HALF_VALUES } from '../raster/half.js'
import type { Rect } from '../raster/rect.js'
import { type FrameKey, keyOf } from '../shot/frame-key.js'
import type { Steps } from '../turns.js'

/** Blocks are this many pixels square: grain is gone from their mean, and a camera's sway hardly changes it. */
const BLOCK_PX = 16
/** Rows of the band, at least: a wide, low band sees more of the frame than the region's own rows. */
const MIN_ROWS = 192
/** Fewer blocks than this tell nothing that the surround doesn't tell better. */
const MIN_BLOCKS = 24

/** How a frame's light lies to the common light, from most of what is seen. */
export interface GlobalExposure {
  /** Stops to add to log2 luminance. */
  readonly stops: number
  /** Linear-light factor per channel. */
  readonly gain: readonly [number, number, number]
}

/** The band of one frame in blocks, row by row. */
export interface ExposureBlocks {
  /** log2 luminance, then log2 of R, G and B, of every block. */
  readonly means: readonly Float32Array[]
  /** VALID or INVALID per block. */
  readonly validity: Uint8Array
}

interface Seen extends FrameKey {
  readonly band: ExposureBlocks
}

/**
 * The band's rectangle.
 *
 * @param full   what of the plate holds picture
 * @param around what must be read anyway, inside it; the band holds it
 */
export function bandRect(full: Rect, around: Rect): Rect {
  const h = Math.min(full.h, Math.max(around.h, MIN_ROWS))
  const y = Math.max(full.y, Math.min(full.y + full.h - h, Math.round(around.y + around.h / 2 - h / 2)))
  return { x: full.x, y, w: full.w, h }
}

/**
 * @param linear RGB over the band, as halves
 * @param clip   linear light from which a channel counts as clipped
 */
export function exposureBlocks(linear: Readonly<Uint16Array>, rect: Rect, clip: number): ExposureBlocks {
  const columns = Math.floor(rect.w / BLOCK_PX)
  const count = columns * Math.floor(rect.h / BLOCK_PX)
  const means = [0, 1, 2, 3].map(() => new Float32Array(count))
  const validity = new Uint8Array(count)
  const [wr, wg, wb] = LUMINANCE_WEIGHTS
  for (let block = 0; block < count; block++) {
    const x0 = (block % columns) * BLOCK_PX
    const y0 = Math.floor(block / columns) * BLOCK_PX
    let r = 0
    let g = 0
    let b = 0
    let good = 0
    for (let y = y0; y < y0 + BLOCK_PX; y++) {
      let i = (y * rect.w + x0) * 3
      for (let x = 0; x < BLOCK_PX; x++, i += 3) {
        const red = HALF_VALUES[linear[i]]
        const green = HALF_VALUES[linear[i + 1]]
        const blue = HALF_VALUES[linear[i + 2]]
        const sum = red + green + blue
        if (sum - sum !== 0 || red >= clip || green >= clip || blue >= clip) continue
        r += red
        g += green
        b += blue
        good++
      }
    }
    // A block with one clipped pixel in ten can't follow the light.
    if (good < 0.9 * BLOCK_PX * BLOCK_PX) continue
    validity[block] = VALID
    const log = (v: number) => Math.log2(Math.max(0, v / good) + LOG_FLOOR)
    means[0][block] = log(wr * r + wg * g + wb * b)
    means[1][block] = log(r)
    means[2][block] = log(g)
    means[3][block] = log(b)
  }
  return { means, validity }
}

/**
 * The light of every frame seen, by `plate:frame`; null where too little of the band can be compared.
 *
 * @param seen in order: the first frame is the first measure of the rest
 * @param channels `together`: the luminance speaks for all, for a quarter of the time
 */
export function* globalExposures(
  workspace: Workspace,
  seen: readonly Seen[],
  channels: 'each' | 'together' = 'each',
): Steps<Map<string, GlobalExposure> | null> {
  if (seen.length === 0) return null
  const found: (Float64Array | null)[] = []
  for (const channel of channels === 'each' ? [0, 1, 2, 3] : [0])
    found.push(yield* offsets(workspace, seen, channel))
  if (found.some((f) => f === null)) return null
  const lights = new Map<string, GlobalExposure>()
  for (const [i, key] of seen.entries()) {
    const [stops, r = stops, g = stops, b = stops] = found.map((f) => f![i])
    lights.set(keyOf(key), { stops, gain: [2 ** r, 2 ** g, 2 ** b] })
  }
  return lights
}

/** Stops that bring every frame to what the blocks agree on: twice, as the first picture is made before the light is known. */
function* offsets(workspace: Workspace, seen: readonly Seen[], channel: number): Steps<Float64Array | null> {
  const first = seen[0].band
  let light = new Float64Array(seen.length)
  let level: Readonly<Float32Array> = first.means[channel]
  let valid: Readonly<Uint8Array> = first.validity
  for (let round = 0; round < 3; round++) {
    const next: (number | null)[] = []
    for (const { band } of seen) {
      yield
      next.push(lightAgainst(level, valid, band.means[channel], band.validity))
    }
    if (next.includes(null)) return null
    light = Float64Array.from(next as number[])
    const samples = seen.map(({ band }, i) => ({
      aligned: band.means[channel],
      validity: band.validity,
      exposure: light[i],
    }))
    const empty = yield* cleanPlateSteps(workspace, samples, level.length)
    level = empty.level
    valid = Uint8Array.from(empty.support, (v) => (v > 0 ? VALID : INVALID))
  }
  return light
}

function lightAgainst(
  level: Readonly<Float32Array>,
  valid: Readonly<Uint8Array>,
  blocks: Readonly<Float32Array>,
  validity: Readonly<Uint8Array>,
): number | null {
  const off = new Float32Array(blocks.length)
  let n = 0
  for (let i = 0; i < blocks.length; i++)
    if (validity[i] === VALID && valid[i] === VALID) off[n++] = level[i] - blocks[i]
  if (n < MIN_BLOCKS) return null
  const sorted = off.subarray(0, n).sort()
  const bounds = new Int32Array(2)
  agreeingGroup(sorted, bounds)
  return mean(sorted, bounds[0], bounds[1])
}
