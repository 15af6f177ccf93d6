// What the footage shows in a window's region apart from its noise: the median of frames from all of it that show the region empty. A
// codec keeps some of its noise for many frames, so that neighbours alone would keep it.
import { grow, intersect } from '../../src/raster/rect.js'
import { type Picture, picture } from '../resample.js'
import type { Case } from './case.js'
import { type Footage, readLinear } from './footage.js'
import { MAX_SWAY_PX } from './motion.js'
import { median } from './statistics.js'

/** Spread over all of them; their median has a twentieth of one's variance of noise. */
const FRAMES = 32
/** Beyond the plate's own part of the footage: sway and a filter's taps. */
const ROUND_PX = MAX_SWAY_PX + 9

/** Linear light at the median of their light, a picture of the footage's size; 0 beyond what the plate shows of it. */
export async function sceneryOf(footage: Footage, { window, crop, empty = [] }: Case): Promise<Picture> {
  const others = empty.filter((frame) => !window.frames.includes(frame))
  const every = Math.max(1, others.length / FRAMES)
  const chosen = others.filter((_, i) => Math.floor(i / every) !== Math.floor((i - 1) / every))
  const whole = { x: 0, y: 0, w: footage.width, h: footage.height }
  const rect = intersect(grow(crop, ROUND_PX), whole)
  const box = { ...window.box, x: window.box.x - rect.x, y: window.box.y - rect.y }
  const shown: Picture[] = []
  for (const frame of chosen) shown.push(await readLinear(footage, frame, rect))
  const lights = shown.map((one) => lightIn(one, box))
  const usual = [0, 1, 2].map((c) => median(lights.map((light) => light[c]))!)
  const gains = lights.map((light) => light.map((v, c) => usual[c] / v))
  const out = picture(footage.width, footage.height)
  const values = new Float64Array(shown.length)
  for (let y = 0, i = 0; y < rect.h; y++)
    for (let x = 0, to = 3 * ((rect.y + y) * footage.width + rect.x); x < 3 * rect.w; x++, i++, to++) {
      for (let k = 0; k < values.length; k++) values[k] = shown[k].data[i] * gains[k][i % 3]
      values.sort()
      out.data[to] = (values[(values.length - 1) >> 1] + values[values.length >> 1]) / 2
    }
  return out
}

/** R, G, B: means over a box. */
function lightIn({ width, data }: Picture, { x, y, w, h }: Case['box']): number[] {
  const sums = [0, 0, 0]
  for (let row = y; row < y + h; row++)
    for (let i = 3 * (row * width + x), c = 0; i < 3 * (row * width + x + w); i++, c = (c + 1) % 3)
      sums[c] += data[i]
  return sums.map((sum) => sum / (w * h))
}
