// The ratio pass: a donor over its own quiet state, per channel, in linear light: the shadow or the reflection alone.
import { LUMINANCE_WEIGHTS } from '../colour/luminance.js'
import { misuse } from '../errors.js'
import { readRect } from '../footage/plate.js'
import { type Frame, frame } from '../raster/frame.js'
import { contains, grow, intersect, type Rect } from '../raster/rect.js'
import { featheredAlpha } from '../region/region.js'
import type { Candidate, FrameMatch, StackShare } from '../search/result.js'
import { clipLevel } from '../search/store.js'
import { donorRect, lend } from './lend.js'
import { blur, pickScales, ratioAt, ratioScratch, SCALES } from './ratio-estimate.js'
import { FEATHER_PX, type RepairedFrame, type RepairJob } from './repair.js'

/** Stops are multiplied by this: 1 is the change as it was shot. */
export const STRENGTH = 1
/** Quiet frames that tell how sure a ratio is at each window size. */
const CALIBRATION_FRAMES = 8
/** Grain's variance is alike over so many pixels: it follows the light, not the texture. */
const NOISE_RADIUS_PX = 8
/** Colour changes more slowly than light over a shadow's edge, and its grain is coarser: one window wider. */
const COLOUR_WIDER = 1
/** Room round a quiet frame's rectangle for the camera's sway, pixels. */
const SWAY_ROOM_PX = 8
/** Relative error of a ratio below which no window is trusted to be: a tenth of a per cent, half float's own step. */
const LEAST_ERROR = 1e-3

export interface RatioOptions {
  /** Scales the change in stops; 0 leaves the target as it is, below 0 turns a shadow into light. */
  readonly strength?: number
  readonly featherPx?: number
}

export interface LiftedFrame extends RepairedFrame {
  /** Linear RGB factors over `rect`: what the target is multiplied by; 1 beyond the feathered mask. */
  readonly ratio: Frame
}

/** The quiet state on one target frame's grid, in the light of the moment's peak. */
interface Quiet {
  /** Before the peak and after it: light on a surface drifts, and a moment lies between the two. */
  readonly before: Side
  readonly after: Side
  /** Variance of luminance grain, smoothed. */
  readonly noise: Float32Array
  readonly trust: Float32Array
  /** Relative standard error of the ratio of luminance, per scale. */
  readonly errors: readonly Float32Array[]
}

/** The mean of some quiet frames. */
interface Side {
  /** Mean frame number. */
  readonly at: number
  readonly channels: readonly Float32Array[]
}

/** Lifts the ratio of one candidate's frames; the quiet state is read once for each place it is needed at. */
export class RatioLifter {
  readonly #shares: readonly StackShare[]
  readonly #sources = new Map<string, Promise<Source>>()
  #quiet: { at: string; state: Promise<Quiet> } | undefined

  /** @throws MISUSE where the candidate holds no moment of light to lift */
  constructor(
    readonly job: RepairJob,
    readonly candidate: Candidate,
  ) {
    const shares = candidate.moment?.quietState ?? []
    if (shares.length === 0) {
      throw misuse('--ratio', 'a candidate found with --aim borrow, which has a quiet state', candidate.id)
    }
    this.#shares = shares
  }

  /** @throws FRAME_UNREADABLE, FRAME_MISSING from the footage */
  async lift(
    match: FrameMatch,
    { strength = STRENGTH, featherPx = FEATHER_PX }: RatioOptions = {},
  ): Promise<LiftedFrame> {
    const { region, target } = this.job
    const { window } = region
    const { inside } = region.frames.get(match.target)!
    const [seen, lent, quiet] = await Promise.all([
      readRect(target, match.target, window),
      this.#lent(match.plate, match.donor, match.dx, match.dy),
      this.#quietFor(match),
    ])
    const raw = rawRatio(lent, quiet, match, window.w, window.h)
    const alpha = featheredAlpha(inside, window.w, featherPx)
    for (let i = 0; i < alpha.length; i++) if (lent.trust[i] === 0 && quiet.trust[i] === 0) alpha[i] = 0
    const ratio = frame(window.h, window.w, 3)
    const repaired = frame(window.h, window.w, 3, seen.data.slice())
    const patch = frame(window.h, window.w, 3)
    for (let i = 0, j = 0; i < alpha.length; i++) {
      for (let c = 0; c < 3; c++, j++) {
        ratio.data[j] = alpha[i] === 0 ? 1 : raw.data[j] ** (strength * alpha[i])
        patch.data[j] = seen.data[j] * raw.data[j] ** strength
        if (alpha[i] > 0) repaired.data[j] = seen.data[j] * ratio.data[j]
      }
    }
    return { rect: window, target: seen, donor: lent.picture, patch, repaired, alpha, mask: inside, ratio }
  }

  /** The donor's pixels over the window, and which of them say something. */
  async #lent(plate: number, number: number, dx: number, dy: number): Promise<Lit> {
    const donor = this.job.donors[plate]
    const { window } = this.job.region
    const { rect, picture: source } = await this.#sourceOf(plate, number, dx, dy)
    const { picture, there } = lend(source, rect, window, dx, dy)
    const clip = clipLevel(donor)
    const trust = new Float32Array(there.length)
    for (let i = 0, j = 0; i < trust.length; i++, j += 3) {
      const { data } = picture
      if (there[i] === 1 && data[j] < clip && data[j + 1] < clip && data[j + 2] < clip) trust[i] = 1
    }
    return { picture, trust }
  }

  /** Quiet frames serve every target frame, each time a little elsewhere: read once, with room round them. */
  async #sourceOf(plate: number, number: number, dx: number, dy: number): Promise<Source> {
    const donor = this.job.donors[plate]
    const full = { x: 0, y: 0, w: donor.width, h: donor.height }
    const needed = donorRect(this.job.region.window, dx, dy, full)
    if (!this.#shares.some((s) => s.plate === plate && s.frame === number)) {
      return { rect: needed, picture: await readRect(donor, number, needed) }
    }
    const key = `${plate}:${number}`
    const held = await this.#sources.get(key)
    if (held && contains(held.rect, needed)) return held
    const rect = intersect(grow(needed, SWAY_ROOM_PX), full)
    const reading = readRect(donor, number, rect).then((picture) => ({ rect, picture }))
    this.#sources.set(key, reading)
    return reading
  }

  #quietFor(match: FrameMatch): Promise<Quiet> {
    const { dx = match.dx, dy = match.dy } = match.quiet ?? {}
    const at = `${dx},${dy}`
    if (this.#quiet?.at !== at) this.#quiet = { at, state: this.#readQuiet(dx, dy) }
    return this.#quiet.state
  }

  async #readQuiet(dx: number, dy: number): Promise<Quiet> {
    const { window } = this.job.region
    const width = window.w
    const length = width * window.h
    const frames: Lit[] = []
    for (const share of this.#shares) {
      const lit = await this.#lent(share.plate, share.frame, dx + share.dx, dy + share.dy)
      for (let j = 0; j < lit.picture.data.length; j++) lit.picture.data[j] *= share.gain[j % 3]
      frames.push(lit)
    }
    const peak = this.candidate.moment!.peak
    const side = (chosen: (frame: number) => boolean): Side => {
      const used = this.#shares.flatMap((share, i) => (chosen(share.frame) ? [i] : []))
      const all = used.length > 0 ? used : this.#shares.map((_, i) => i)
      const at = all.reduce((sum, i) => sum + this.#shares[i].frame, 0) / all.length
      return { at, channels: meanOf(all.map((i) => frames[i])) }
    }
    const before = side((f) => f < peak)
    const after = side((f) => f > peak)
    const trust = new Float32Array(length)
    for (const { trust: t } of frames) for (let i = 0; i < length; i++) trust[i] += t[i]
    // A pixel that most quiet frames can't show is no witness.
    for (let i = 0; i < length; i++) trust[i] = trust[i] > frames.length / 2 ? 1 : 0
    const luminance = mix(meanOf(frames))
    const scratch = ratioScratch(length)
    const noise = varianceOf(frames, luminance)
    blur(noise, width, NOISE_RADIUS_PX, scratch.c)
    const used = frames.length <= CALIBRATION_FRAMES ? frames : frames.filter((_, i) => i % 2 === 0)
    const own = used.map(luminanceOf)
    const out = new Float32Array(length)
    const errors = SCALES.map((scale) => {
      const square = new Float32Array(length)
      for (const [n, y] of own.entries()) {
        ratioAt(y, luminance, both(trust, used[n].trust), noise, width, scale, scratch, out)
        for (let i = 0; i < length; i++) square[i] += (out[i] - 1) ** 2 / own.length
      }
      blur(square, width, NOISE_RADIUS_PX, scratch.c)
      // A frame is part of the mean it is compared with, which hides a share of its error.
      const hidden = frames.length > 1 ? frames.length / (frames.length - 1) : 1
      return square.map((v) => Math.max(LEAST_ERROR, Math.sqrt(v * hidden)))
    })
    return { before, after, noise, trust, errors }
  }
}

interface Source {
  readonly rect: Rect
  readonly picture: Frame
}

interface Lit {
  readonly picture: Frame
  readonly trust: Float32Array
}

/** Luminance at the scale that its grain allows; the channels against it one scale wider. */
function rawRatio(lent: Lit, quiet: Quiet, match: FrameMatch, width: number, height: number): Frame {
  const length = width * height
  const scratch = ratioScratch(length)
  const trust = both(quiet.trust, lent.trust)
  const donor = [0, 1, 2].map((c) => Float32Array.from({ length }, (_, i) => lent.picture.data[3 * i + c]))
  // The quiet state at the donor's time and in its light.
  const gain = match.quiet?.gain ?? [1, 1, 1]
  const { before, after } = quiet
  const between = after.at > before.at ? (match.donor - before.at) / (after.at - before.at) : 0
  const late = Math.min(1, Math.max(0, between))
  const base = before.channels.map((v, c) =>
    v.map((x, i) => gain[c] * ((1 - late) * x + late * after.channels[c][i])),
  )
  const at = (a: Float32Array, b: Float32Array) =>
    SCALES.map((scale) => {
      const out = new Float32Array(length)
      ratioAt(a, b, trust, quiet.noise, width, scale, scratch, out)
      return out
    })
  const light = at(mix(donor), mix(base))
  const pick = new Uint8Array(length)
  pickScales(light, quiet.errors, pick)
  const channels = donor.map((d, c) => at(d, base[c]))
  const out = frame(height, width, 3)
  for (let i = 0, j = 0; i < length; i++) {
    const wide = Math.min(SCALES.length - 1, pick[i] + COLOUR_WIDER)
    for (let c = 0; c < 3; c++, j++) {
      out.data[j] = (light[pick[i]][i] * channels[c][wide][i]) / light[wide][i]
    }
  }
  return out
}

function meanOf(frames: readonly Lit[]): Float32Array[] {
  const length = frames[0].trust.length
  const weight = new Float32Array(length)
  const channels = [0, 1, 2].map(() => new Float32Array(length))
  for (const { picture, trust } of frames) {
    for (let i = 0, j = 0; i < length; i++, j += 3) {
      if (trust[i] === 0) continue
      weight[i]++
      for (let c = 0; c < 3; c++) channels[c][i] += picture.data[j + c]
    }
  }
  for (let i = 0; i < length; i++) if (weight[i] > 0) for (const c of channels) c[i] /= weight[i]
  return channels
}

function mix(channels: readonly Readonly<Float32Array>[]): Float32Array {
  const [wr, wg, wb] = LUMINANCE_WEIGHTS
  const [r, g, b] = channels
  return Float32Array.from(r, (v, i) => wr * v + wg * g[i] + wb * b[i])
}

function luminanceOf({ picture: { data } }: Lit): Float32Array {
  const [wr, wg, wb] = LUMINANCE_WEIGHTS
  const out = new Float32Array(data.length / 3)
  for (let i = 0, j = 0; i < out.length; i++, j += 3)
    out[i] = wr * data[j] + wg * data[j + 1] + wb * data[j + 2]
  return out
}

function varianceOf(frames: readonly Lit[], mean: Readonly<Float32Array>): Float32Array {
  const out = new Float32Array(mean.length)
  for (const f of frames) {
    const y = luminanceOf(f)
    for (let i = 0; i < out.length; i++) if (f.trust[i] > 0) out[i] += (y[i] - mean[i]) ** 2
  }
  const n = Math.max(1, frames.length - 1)
  for (let i = 0; i < out.length; i++) out[i] /= n
  return out
}

function both(a: Readonly<Float32Array>, b: Readonly<Float32Array>): Float32Array {
  return a.map((v, i) => v * b[i])
}
