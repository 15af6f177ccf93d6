// The reference state that a moment's light is compared with: the mean of some frames, pixel by pixel without those on which
// somebody stands there, and what their grain does to a ratio.
import { blur } from '../../kernels/ratio.js'
import type { Workspace } from '../../kernels/workspace.js'
import { medianAndSigma } from '../../match/selection.js'
import type { Frame } from '../../raster/frame.js'
import { type BandGrain, bandGrain, type Channels, logRatios, luminanceOf } from './bands.js'

/** Unlit frames that tell what grain does: every other one of sixteen. */
const CALIBRATION_FRAMES = 8
/** Grain's variance is alike over so many pixels: it follows the light, not the texture. */
export const NOISE_RADIUS_PX = 8
/** An unlit frame's pixel this many sigma of grain, and this share of its light, off the median shows somebody. */
const PASSING_SIGMA = 4
const PASSING_SHARE = 0.07

/** A frame over the window, and which of its pixels say something. */
export interface Lit {
  readonly picture: Frame
  readonly validity: Float32Array
  /** A channel from this on is clipped: the light is at least so much. */
  readonly clipLevel: number
}

export interface UnlitFrame extends Lit {
  readonly frame: number
}

/** The reference state on one target frame's grid, in the light of the moment's peak. */
export interface ReferenceState {
  /** Before the peak and after it: light on a surface drifts, and a moment lies between the two. */
  readonly before: Side
  readonly after: Side
  /** Variance of luminance grain, smoothed. */
  readonly noise: Float32Array
  readonly validity: Float32Array
}

interface Side {
  /** Mean frame number. */
  readonly at: number
  readonly channels: Channels
}

/** @param peak frame number; @param width of the window */
export function referenceState(
  workspace: Workspace,
  frames: readonly UnlitFrame[],
  peak: number,
  width: number,
): ReferenceState {
  const shown = meanOf(frames)
  leaveOccludersOut(workspace, frames, width)
  const whole = meanOf(frames, shown)
  const side = (chosen: readonly UnlitFrame[]): Side => {
    const used = chosen.length > 0 ? chosen : frames
    return {
      at: used.reduce((sum, f) => sum + f.frame, 0) / used.length,
      channels: meanOf(used, whole),
    }
  }
  const validity = new Float32Array(whole[0].length)
  for (const { validity: t } of frames) for (let i = 0; i < validity.length; i++) validity[i] += t[i]
  // A pixel that most unlit frames can't show is no witness.
  for (let i = 0; i < validity.length; i++) validity[i] = validity[i] > frames.length / 2 ? 1 : 0
  return {
    before: side(frames.filter((f) => f.frame < peak)),
    after: side(frames.filter((f) => f.frame > peak)),
    noise: grainOf(workspace, frames, luminanceOf(whole), width),
    validity,
  }
}

/** What grain alone does to a ratio of unlit frames to their own mean. */
export function unlitGrain(
  workspace: Workspace,
  frames: readonly UnlitFrame[],
  reference: ReferenceState,
  width: number,
): BandGrain {
  const mean = meanOf(frames)
  const used = frames.length <= CALIBRATION_FRAMES ? frames : frames.filter((_, i) => i % 2 === 0)
  // A frame is part of the mean it is compared with, which hides a share of its grain.
  const hidden = frames.length > 1 ? frames.length / (frames.length - 1) : 1
  const ratios = used.map((f) =>
    logRatios(workspace, channelsOf(f), mean, both(reference.validity, f.validity), reference.noise, width),
  )
  return bandGrain(workspace, ratios, width, NOISE_RADIUS_PX).map((bands) =>
    bands.map((variance) => variance.map((v) => v * hidden)),
  )
}

/** The reference state at a frame's time, between the two sides. */
export function referenceAt(
  { before, after }: ReferenceState,
  frame: number,
  gain: readonly number[],
): Float32Array[] {
  const between = after.at > before.at ? (frame - before.at) / (after.at - before.at) : 0
  const late = Math.min(1, Math.max(0, between))
  return before.channels.map((early, c) => {
    const later = after.channels[c]
    const out = new Float32Array(early.length)
    for (let i = 0; i < out.length; i++) out[i] = gain[c] * ((1 - late) * early[i] + late * later[i])
    return out
  })
}

/** Takes the validity from pixels that are not what most frames show: people beside the region, whom no shadow shades. */
function leaveOccludersOut(workspace: Workspace, frames: readonly UnlitFrame[], width: number): void {
  const length = frames[0].validity.length
  const light = frames.map((f) => luminanceOf(channelsOf(f)))
  const middle = new Float32Array(length)
  const sigma = new Float32Array(length)
  const values = new Float32Array(frames.length)
  for (let i = 0; i < length; i++) {
    let n = 0
    for (const [k, f] of frames.entries()) if (f.validity[i] > 0) values[n++] = light[k][i]
    if (n === 0) continue
    const found = medianAndSigma(values, n)
    middle[i] = found.median
    sigma[i] = found.sigma
  }
  blur(workspace, sigma, width, NOISE_RADIUS_PX >> 1)
  for (const [k, f] of frames.entries()) {
    for (let i = 0; i < length; i++) {
      const limit = Math.max(PASSING_SIGMA * sigma[i], PASSING_SHARE * middle[i])
      if (Math.abs(light[k][i] - middle[i]) > limit) f.validity[i] = 0
    }
  }
}

/** @param otherwise what a pixel is that no frame shows; absent: 0 */
function meanOf(frames: readonly Lit[], otherwise?: Channels): Float32Array[] {
  const length = frames[0].validity.length
  const weight = new Float32Array(length)
  const channels = [0, 1, 2].map(() => new Float32Array(length))
  for (const { picture, validity } of frames) {
    for (let i = 0, j = 0; i < length; i++, j += 3) {
      if (validity[i] === 0) continue
      weight[i]++
      for (let c = 0; c < 3; c++) channels[c][i] += picture.data[j + c]
    }
  }
  for (let i = 0; i < length; i++) {
    for (let c = 0; c < 3; c++) {
      if (weight[i] > 0) channels[c][i] /= weight[i]
      else if (otherwise) channels[c][i] = otherwise[c][i]
    }
  }
  return channels
}

function grainOf(
  workspace: Workspace,
  frames: readonly Lit[],
  mean: Readonly<Float32Array>,
  width: number,
): Float32Array {
  const out = new Float32Array(mean.length)
  for (const f of frames) {
    const y = luminanceOf(channelsOf(f))
    for (let i = 0; i < out.length; i++) if (f.validity[i] > 0) out[i] += (y[i] - mean[i]) ** 2
  }
  const n = Math.max(1, frames.length - 1)
  for (let i = 0; i < out.length; i++) out[i] /= n
  blur(workspace, out, width, NOISE_RADIUS_PX)
  return out
}

export function channelsOf({ picture: { data } }: Lit): Float32Array[] {
  return [0, 1, 2].map((c) => {
    const out = new Float32Array(data.length / 3)
    for (let i = 0; i < out.length; i++) out[i] = data[3 * i + c]
    return out
  })
}

export function both(a: Readonly<Float32Array>, b: Readonly<Float32Array>): Float32Array {
  const out = new Float32Array(a.length)
  for (let i = 0; i < out.length; i++) out[i] = a[i] * b[i]
  return out
}
