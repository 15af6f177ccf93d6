// What a written patch looks like beside the truth: does its edge show, does it boil or stand still, is its grain the plate's?
// All in display-encoded samples, where an eye judges; everything is a ratio to what the true picture has at the same place.
import FFT from 'fft.js'
import { ssim } from 'ssim.js'
import { decibelsApart } from '../../src/repair/finish/spectrum-distance.js'
import type { Picture } from '../resample.js'
import { median } from './statistics.js'

/** One frame of a window: the plate with the patch laid over, what was really there, and that without noise. */
export interface Shown {
  readonly repaired: Picture
  readonly truth: Picture
  readonly scenery: Picture
}

export interface Finish {
  /** Mean structural similarity inside, -1 to 1. Z. Wang et al. (IEEE TIP 2004), by ssim.js on 8-bit luma. */
  readonly ssim: number
  /** RMS difference of luma between the two sides of the mask's edge, each the mean of a small square, over the truth's. */
  readonly seam: number
  /** RMS change of luma from one frame to the next inside, over the truth's. */
  readonly flicker: number
  /** R, G, B: noise inside over the truth's, apart from the scenery, whose texture is most of what either has. */
  readonly noise: readonly [number, number, number]
  /** RMS over bands of frequency, dB: spectrum of what changes from frame to frame inside, against the truth's. */
  readonly spectrum: number
}

/** ITU-R BT.709 luma, on encoded samples. */
const LUMA = [0.2126, 0.7152, 0.0722]
/** Half the distance between the two sides, and of a side's square: beyond the feather's four pixels there is plate. */
const SEAM_STEP = 4
const SEAM_SIDE = 2
const BANDS = 8
/** Below this many cycles per pixel a region of some fifty pixels tells nothing. */
const LOWEST = 1 / 16

/**
 * @param frames in order
 * @param region offsets of the region's pixels into the pictures, per frame
 */
export function finishOf(frames: readonly Shown[], region: readonly Int32Array[]): Finish {
  const repaired = frames.map((f) => planesOf(f.repaired))
  const truth = frames.map((f) => planesOf(f.truth))
  const scenery = frames.map((f) => planesOf(f.scenery))
  const { width } = frames[0].truth
  const noiseIn = (shown: readonly Float32Array[][], c: number) =>
    median(shown.map((p, t) => noiseLevel(without(p[c], scenery[t][c], region[t]), region[t], width)))!
  const noise = [0, 1, 2].map((c) => noiseIn(repaired, c) / noiseIn(truth, c))
  return {
    ssim: mean(frames.map((f, t) => similarity(f, region[t]))),
    seam: Math.sqrt(
      total(repaired.map((p, t) => steps(p[3], region[t], width))) /
        total(truth.map((p, t) => steps(p[3], region[t], width))),
    ),
    flicker: Math.sqrt(changes(repaired, region) / changes(truth, region)),
    noise: [noise[0], noise[1], noise[2]],
    spectrum: decibelsApart(
      changeSpectrum(repaired, region, width),
      changeSpectrum(truth, region, width),
      UNSEEN,
    ),
  }
}

/** R, G, B and luma. */
function planesOf({ data }: Picture): Float32Array[] {
  const out = [0, 1, 2, 3].map(() => new Float32Array(data.length / 3))
  for (let i = 0; i < out[3].length; i++)
    for (let c = 0; c < 3; c++) {
      out[c][i] = data[3 * i + c]
      out[3][i] += LUMA[c] * data[3 * i + c]
    }
  return out
}

/** A plane less the scenery, at its light over the region. */
function without(plane: Float32Array, scenery: Float32Array, region: Int32Array): Float32Array {
  let [light, usual] = [0, 0]
  for (const i of region) {
    light += plane[i]
    usual += scenery[i]
  }
  return plane.map((v, i) => v - (light / usual) * scenery[i])
}

/** J. Immerkaer, Fast Noise Variance Estimation (CVIU 1996), eq. 5, over the region. */
function noiseLevel(plane: Float32Array, region: Int32Array, width: number): number {
  let sum = 0
  for (const i of region) {
    const at = (dx: number, dy: number) => plane[i + dy * width + dx]
    const corners = at(-1, -1) + at(1, -1) + at(-1, 1) + at(1, 1)
    const sides = at(0, -1) + at(-1, 0) + at(1, 0) + at(0, 1)
    sum += Math.abs(corners - 2 * sides + 4 * at(0, 0))
  }
  return (Math.sqrt(Math.PI / 2) * sum) / (6 * region.length)
}

function changes(planes: readonly Float32Array[][], region: readonly Int32Array[]): number {
  let sum = 0
  for (let t = 1; t < planes.length; t++)
    for (const i of region[t]) sum += (planes[t][3][i] - planes[t - 1][3][i]) ** 2 / region[t].length
  return sum
}

/** Squared difference over the edge of the region, across and down. */
function steps(luma: Float32Array, region: Int32Array, width: number): number {
  const inside = new Set(region)
  const side = (i: number) => {
    let sum = 0
    for (let dy = -SEAM_SIDE; dy <= SEAM_SIDE; dy++)
      for (let dx = -SEAM_SIDE; dx <= SEAM_SIDE; dx++) sum += luma[i + dy * width + dx]
    return sum / (2 * SEAM_SIDE + 1) ** 2
  }
  let sum = 0
  for (const i of region)
    for (const step of [-1, 1, -width, width]) {
      if (inside.has(i + step)) continue
      sum += (side(i - (SEAM_STEP - 1) * step) - side(i + SEAM_STEP * step)) ** 2
    }
  return sum
}

/** Power of the frame-to-frame change in each band, mean over the region's largest square blocks of 32 px. */
function changeSpectrum(
  planes: readonly Float32Array[][],
  region: readonly Int32Array[],
  width: number,
): number[] {
  const size = 32
  const fft = new FFT(size)
  const power = new Float64Array(BANDS)
  const count = new Float64Array(BANDS)
  const hann = Array.from({ length: size }, (_, i) => Math.sin((Math.PI * (i + 0.5)) / size) ** 2)
  for (let t = 1; t < planes.length; t++) {
    for (const [left, top] of blocksIn(region[t], width, size)) {
      const rows = Array.from({ length: size }, (_, y) => {
        const row = fft.createComplexArray()
        for (let x = 0; x < size; x++) {
          const i = (top + y) * width + left + x
          row[2 * x] = hann[x] * hann[y] * (planes[t][3][i] - planes[t - 1][3][i])
          row[2 * x + 1] = 0
        }
        const out = fft.createComplexArray()
        fft.transform(out, row)
        return out
      })
      for (let x = 0; x < size; x++) {
        const column = fft.createComplexArray()
        for (let y = 0; y < size; y++) {
          column[2 * y] = rows[y][2 * x]
          column[2 * y + 1] = rows[y][2 * x + 1]
        }
        const out = fft.createComplexArray()
        fft.transform(out, column)
        for (let y = 0; y < size; y++) {
          const f = Math.hypot(Math.min(x, size - x), Math.min(y, size - y)) / size
          if (f < LOWEST || f >= 0.5) continue
          const band = Math.floor(((f - LOWEST) / (0.5 - LOWEST)) * BANDS)
          power[band] += out[2 * y] ** 2 + out[2 * y + 1] ** 2
          count[band]++
        }
      }
    }
  }
  return [...power].map((p, b) => p / count[b])
}

/** Corners of square blocks that lie in the region's box, overlapping by half or more. */
function blocksIn(region: Int32Array, width: number, size: number): [number, number][] {
  let [left, right, top, bottom] = [Infinity, 0, Infinity, 0]
  for (const i of region) {
    left = Math.min(left, i % width)
    right = Math.max(right, i % width)
    top = Math.min(top, Math.floor(i / width))
    bottom = Math.max(bottom, Math.floor(i / width))
  }
  const along = (from: number, to: number) => {
    const room = Math.max(0, to + 1 - from - size)
    const n = Math.ceil(room / (size / 2)) + 1
    return Array.from({ length: n }, (_, k) => from + Math.round((room * k) / Math.max(1, n - 1)))
  }
  return along(top, bottom).flatMap((y) => along(left, right).map((x): [number, number] => [x, y]))
}

/** What no display shows, in 8-bit codes: bands that both have less of than a rounding of 16-bit files are alike. */
const UNSEEN = 1e-9

function similarity({ repaired, truth }: Shown, region: Int32Array): number {
  const [a, b] = [repaired, truth].map(eightBit)
  const { ssim_map: map } = ssim(a, b, { ssim: 'original', downsample: false })
  // The map has no pixels where the window of eleven would reach beyond the picture.
  const off = (truth.width - map.width) / 2
  let sum = 0
  for (const i of region) {
    const [x, y] = [(i % truth.width) - off, Math.floor(i / truth.width) - off]
    sum += map.data[y * map.width + x]
  }
  return sum / region.length
}

function eightBit({ width, height, data }: Picture) {
  const out = new Uint8ClampedArray(width * height * 4)
  for (let i = 0; i < width * height; i++) {
    for (let c = 0; c < 3; c++) out[4 * i + c] = 255 * data[3 * i + c]
    out[4 * i + 3] = 255
  }
  return { width, height, data: out } as ImageData
}

const total = (values: readonly number[]): number => values.reduce((sum, v) => sum + v, 0)
const mean = (values: readonly number[]): number => total(values) / values.length
