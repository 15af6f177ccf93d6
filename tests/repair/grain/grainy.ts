// Footage with grain that we chose: how strong, how fine, how the channels go together, how much of it is new on each frame.
import type { Frame } from '../../../src/raster/frame.js'
import { frame } from '../../../src/raster/frame.js'
import type { Seen } from '../../../src/repair/grain/laid-frames.js'
import { normal } from '../../synthetic.js'

export const W = 112
export const H = 96

export interface GrainOptions {
  readonly frames?: number
  /** Standard deviation over the root of the light, R, G, B. */
  readonly level?: readonly [number, number, number]
  /** Share of the standard deviation's square that all channels have in common. */
  readonly common?: number
  /** Grain is the mean of so many pixels across, 1 for white. */
  readonly blur?: number
  /** Share of a frame's grain that is carried from the frame before. */
  readonly carried?: number
  readonly light?: (x: number, y: number) => number
  /** Factor of its standard deviation. */
  readonly place?: (x: number, y: number) => number
  readonly start?: number
}

/** Frames of one surface in grain whose deviation goes with the root of the light, as photons have it. */
export function grainy({
  frames = 13,
  level = [0.01, 0.01, 0.01],
  common = 0,
  blur = 1,
  carried = 0,
  light = (x) => 0.1 + (0.5 * x) / W,
  place = () => 1,
  start = 1,
}: GrainOptions = {}): Seen[] {
  const random = normal(start)
  const draw = () => {
    const white = Float32Array.from({ length: (W + blur) * H }, random)
    const out = new Float32Array(W * H)
    for (let y = 0; y < H; y++)
      for (let x = 0; x < W; x++) {
        let sum = 0
        for (let k = 0; k < blur; k++) sum += white[y * (W + blur) + x + k]
        out[y * W + x] = sum / Math.sqrt(blur)
      }
    return out
  }
  let fields = [0, 1, 2, 3].map(draw)
  return Array.from({ length: frames }, (_, f) => {
    if (f > 0)
      fields = fields.map((last) => {
        const next = draw()
        return next.map((v, i) => carried * last[i] + Math.sqrt(1 - carried * carried) * v)
      })
    const picture = frame(H, W, 3)
    for (let y = 0, i = 0; y < H; y++)
      for (let x = 0; x < W; x++, i++)
        for (let c = 0; c < 3; c++) {
          const mean = light(x, y)
          const noise = Math.sqrt(common) * fields[3][i] + Math.sqrt(1 - common) * fields[c][i]
          picture.data[3 * i + c] = mean + place(x, y) * level[c] * Math.sqrt(mean) * noise
        }
    return { frame: 1001 + f, picture }
  })
}

/** A channel's samples less the light that they lie round. */
export function noiseIn(
  { data }: Frame,
  channel: number,
  light: (x: number, y: number) => number,
): Float32Array {
  return Float32Array.from(
    { length: W * H },
    (_, i) => data[3 * i + channel] - light(i % W, Math.floor(i / W)),
  )
}

export function deviation(values: ArrayLike<number>): number {
  const list = Array.from(values)
  const mean = list.reduce((sum, v) => sum + v, 0) / list.length
  return Math.sqrt(list.reduce((sum, v) => sum + (v - mean) ** 2, 0) / list.length)
}

export function correlation(a: ArrayLike<number>, b: ArrayLike<number>): number {
  let [ab, aa, bb] = [0, 0, 0]
  for (let i = 0; i < a.length; i++) {
    ab += a[i] * b[i]
    aa += a[i] * a[i]
    bb += b[i] * b[i]
  }
  return ab / Math.sqrt(aa * bb)
}
