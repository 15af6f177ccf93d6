// The light that the footage has of its own on the donor frame: whoever stands beside the region takes sky light from it,
// clouds drift. It lies under the planted shade, at the same place and time, so that no lift can tell the two apart, and a
// perfect one brings both. Measured on the footage before anything was planted, with no search or repair code.
import type { Candidate, FrameMatch } from '../../src/search/result.js'
import { type ShadeCase, stopsAt } from './borrow-plant.js'
import { PERHAPS } from './disturbance.js'
import { type Footage, readLinear, toDisplay } from './footage.js'
import { inRegion } from './region.js'

/** Sigma of the window it is smoothed in, pixels: holds 450 pixels, whose grain is a twentieth of one pixel's. */
const WINDOW_PX = 6
/** Most that passes for own light, codes of 255: what the label `empty` lets a shadow of the footage have. */
const MAX_CODES = PERHAPS
const LUMINANCE = [0.2126, 0.7152, 0.0722]

/** log2 factors, three per pixel of the region, in the order of `regionPixels`. */
export type OwnLight = Float32Array

/** Measures one candidate's frames against the quiet frames that it names, in the light that it gives them. */
export class OwnLights {
  readonly #read = new Map<string, Promise<Float32Array>>()

  constructor(
    readonly footage: Footage,
    readonly planted: ShadeCase,
    readonly candidate: Candidate,
  ) {}

  async at(match: FrameMatch): Promise<OwnLight> {
    const { planted } = this
    const { quietState, peak } = this.candidate.moment!
    const gain = match.quiet?.gain ?? [1, 1, 1]
    const donor = await this.#region(match.donor, match.target)
    const sides = [quietState!.filter((q) => q.frame < peak), quietState!.filter((q) => q.frame > peak)]
    const used = sides.map((side) => (side.length > 0 ? side : quietState!))
    const means = await Promise.all(
      used.map(async (side) => {
        const mean = new Float32Array(donor.length)
        for (const q of side) {
          const seen = await this.#region(q.frame, match.target)
          for (let j = 0; j < mean.length; j++)
            mean[j] += (gain[j % 3] * q.gain[j % 3] * seen[j]) / side.length
        }
        return { mean, at: side.reduce((sum, q) => sum + q.frame, 0) / side.length }
      }),
    )
    const [a, b] = means
    const late = b.at > a.at ? Math.min(1, Math.max(0, (match.donor - a.at) / (b.at - a.at))) : 0
    const quiet = a.mean.map((v, j) => (1 - late) * v + late * b.mean[j])
    return bounded(smoothRatio(donor, quiet, planted), quiet, this.#truth(match))
  }

  /** Depth of what is really there on a frame, stops: the planted shade and the footage's own light where both are deepest. */
  async deepest(match: FrameMatch): Promise<number> {
    const own = await this.at(match)
    const truth = this.#truth(match)
    let most = 0
    for (let k = 0; 3 * k < own.length; k++) {
      const factor = LUMINANCE.reduce((sum, w, c) => sum + w * 2 ** own[3 * k + c], 0)
      const there = truth[3 * k + 1] / this.planted.shade.tint[1] + Math.log2(factor)
      if (there < 0 === this.planted.shade.stops < 0) most = Math.max(most, Math.abs(there))
    }
    return most
  }

  /** Planted stops per channel. */
  #truth(match: FrameMatch): Float32Array {
    const { box, crop, shade } = this.planted
    const { dx, dy } = this.#sway(match.target)
    const out: number[] = []
    for (let y = 0; y < box.h; y++) {
      for (let x = 0; x < box.w; x++) {
        if (!inRegion(box, x, y)) continue
        const s = stopsAt(shade, box.x + x + crop.x - dx, box.y + y + crop.y - dy, match.donor)
        for (const t of shade.tint) out.push(s * t)
      }
    }
    return Float32Array.from(out)
  }

  #sway(target: number) {
    return this.planted.motion[this.planted.frames.indexOf(target)]
  }

  /** The region as the target frame sees it, of a footage frame in its planted exposure; whole pixels do for a smooth thing. */
  #region(frame: number, target: number): Promise<Float32Array> {
    const { box, crop, motion, frames, variant } = this.planted
    const { dx, dy } = this.#sway(target)
    const x = box.x + crop.x - (variant === 'sway' ? Math.round(dx) : 0)
    const y = box.y + crop.y - (variant === 'sway' ? Math.round(dy) : 0)
    const key = `${frame} ${x} ${y}`
    const held = this.#read.get(key)
    if (held) return held
    const exposure = 2 ** motion[frames.indexOf(frame)].stops
    const reading = readLinear(this.footage, frame, { x, y, w: box.w, h: box.h }).then(({ data }) => {
      const out: number[] = []
      for (let i = 0; 3 * i < data.length; i++) {
        if (!inRegion(box, i % box.w, Math.floor(i / box.w))) continue
        for (let c = 0; c < 3; c++) out.push(exposure * data[3 * i + c])
      }
      return Float32Array.from(out)
    })
    this.#read.set(key, reading)
    return reading
  }
}

/** log2 of the least-squares ratio in Gaussian windows; nothing beyond the region has a say. */
function smoothRatio(donor: Float32Array, quiet: Float32Array, { box }: ShadeCase): Float32Array {
  const { w, h } = box
  const out = new Float32Array(donor.length)
  for (let c = 0; c < 3; c++) {
    const cross = new Float32Array(w * h)
    const square = new Float32Array(w * h)
    for (let i = 0, k = c; i < w * h; i++) {
      if (!inRegion(box, i % w, Math.floor(i / w))) continue
      cross[i] = donor[k] * quiet[k]
      square[i] = quiet[k] * quiet[k]
      k += 3
    }
    const above = gaussian(cross, w, h)
    const below = gaussian(square, w, h)
    for (let i = 0, k = c; i < w * h; i++) {
      if (!inRegion(box, i % w, Math.floor(i / w))) continue
      out[k] = below[i] > 0 ? Math.log2(Math.max(2 ** -8, above[i] / below[i])) : 0
      k += 3
    }
  }
  return out
}

/** Never more than `MAX_CODES` on the display: what is more is a thing, or a wrong gain, and stays an error. */
function bounded(own: Float32Array, quiet: Float32Array, truth: Float32Array): Float32Array {
  return own.map((stops, j) => {
    const without = quiet[j] * 2 ** truth[j]
    const codes = 255 * Math.abs(toDisplay(without * 2 ** stops) - toDisplay(without))
    return codes > MAX_CODES ? (stops * MAX_CODES) / codes : stops
  })
}

function gaussian(data: Float32Array, w: number, h: number): Float32Array {
  const reach = 3 * WINDOW_PX
  const taps = Array.from({ length: 2 * reach + 1 }, (_, k) =>
    Math.exp(-((k - reach) ** 2) / 2 / WINDOW_PX ** 2),
  )
  const across = new Float32Array(w * h)
  const out = new Float32Array(w * h)
  for (let y = 0; y < h; y++)
    for (let x = 0; x < w; x++)
      for (let u = Math.max(0, x - reach); u <= Math.min(w - 1, x + reach); u++)
        across[y * w + x] += taps[u - x + reach] * data[y * w + u]
  for (let y = 0; y < h; y++)
    for (let v = Math.max(0, y - reach); v <= Math.min(h - 1, y + reach); v++)
      for (let x = 0; x < w; x++) out[y * w + x] += taps[v - y + reach] * across[v * w + x]
  return out
}
