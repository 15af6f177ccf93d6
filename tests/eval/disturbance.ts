// Who stands where in locked-off footage, from nothing but how often each place shows each value: no search code here.
import pLimit from 'p-limit'
import type { Picture } from '../resample.js'
import { type Footage, readLinear, toDisplay } from './footage.js'

/** Display code values, 0 to 255, of block means: [frame][y, x, channel]. */
interface Blocks {
  readonly block: number
  readonly width: number
  readonly height: number
  readonly codes: readonly Float32Array[]
}

/** Places where something is in the way, per frame, in blocks of `block` pixels: 2 surely, 1 perhaps, 0 empty. */
export interface Disturbance {
  readonly block: number
  readonly width: number
  readonly height: number
  readonly frames: readonly Uint8Array[]
  /** 1 where the clean plate itself is restless (leaves, tape in the wind), so that nothing can be planted there. */
  readonly restless: Uint8Array
}

/** Large frames are looked at in larger blocks: what walks through them is larger too, and memory is not endless. */
const WIDE = 1200
/** Histogram bin of the clean plate, in codes; wider than coding noise, narrower than a coat against asphalt. */
const BIN = 4
/** A difference of so many codes is somebody (coat, skin, shadow core); below six sigma of the place it is noise. */
const SURELY = 20
const SURELY_SIGMA = 6
/** A 3 x 3 block mean off by so many codes may be a soft shadow or a fringe: neither empty nor surely disturbed. */
export const PERHAPS = 5
const PERHAPS_SIGMA = 2.5
/** A place whose clean plate wanders by more codes than this (RMS) is restless. */
const RESTLESS = 6
/** Channels nearer to each other than this have the same light: on two real cameras with fixed balance all were within 0.01. */
const BALANCED = 0.015
const MAD_TO_SIGMA = 1.4826

export async function findDisturbance(footage: Footage): Promise<Disturbance> {
  const blocks = await readBlocks(footage)
  const { width, height, codes } = blocks
  let empty = commonest(blocks)
  levelExposure(blocks, empty)
  empty = commonest(blocks)
  const sigma = wander(blocks, empty)
  const restless = new Uint8Array(width * height)
  for (let i = 0; i < restless.length; i++) {
    const worst = Math.max(sigma[3 * i], sigma[3 * i + 1], sigma[3 * i + 2])
    restless[i] = worst > RESTLESS ? 1 : 0
  }
  const frames = codes.map((frame) => judge(frame, empty, sigma, width, height))
  return { block: blocks.block, width, height, frames, restless }
}

async function readBlocks(footage: Footage): Promise<Blocks> {
  const block = footage.width > WIDE ? 4 : 2
  const width = Math.floor(footage.width / block)
  const height = Math.floor(footage.height / block)
  const limit = pLimit(2)
  const codes = await Promise.all(
    footage.frames.map((frame) => limit(async () => means(await readLinear(footage, frame), block))),
  )
  return { block, width, height, codes }
}

function means(frame: Picture, block: number): Float32Array {
  const width = Math.floor(frame.width / block)
  const height = Math.floor(frame.height / block)
  const out = new Float32Array(width * height * 3)
  for (let y = 0; y < height * block; y++) {
    const row = Math.floor(y / block) * width * 3
    let from = y * frame.width * 3
    for (let x = 0; x < width * block; x++) {
      const to = row + Math.floor(x / block) * 3
      for (let c = 0; c < 3; c++) out[to + c] += toDisplay(frame.data[from++])
    }
  }
  const scale = 255 / (block * block)
  for (let i = 0; i < out.length; i++) out[i] *= scale
  return out
}

/** The value that each place shows most often: the mean round the fullest pair of histogram bins. */
function commonest({ codes }: Blocks): Float32Array {
  const length = codes[0].length
  const bins = Math.ceil(256 / BIN) + 1
  const histogram = new Uint16Array(bins)
  const out = new Float32Array(length)
  for (let i = 0; i < length; i++) {
    histogram.fill(0)
    for (const frame of codes) histogram[(frame[i] / BIN) | 0]++
    let best = 0
    for (let b = 1; b < bins; b++) {
      if (histogram[b] + histogram[b - 1] > histogram[best] + (best > 0 ? histogram[best - 1] : 0)) best = b
    }
    const centre = best * BIN
    let sum = 0
    let n = 0
    for (const frame of codes) {
      if (Math.abs(frame[i] - centre) <= BIN) {
        sum += frame[i]
        n++
      }
    }
    out[i] = sum / n
  }
  return out
}

/**
 * Divides each frame by the median of its ratio to the clean plate, then each channel that is still off by its own, so that
 * neither exposure nor white balance that drifts is anybody's silhouette.
 */
function levelExposure({ codes }: Blocks, empty: Float32Array): void {
  for (const frame of codes) {
    divide(frame, ratioTo(empty, frame, 0, 7), 0, 1)
    for (let c = 0; c < 3; c++) {
      const ratio = ratioTo(empty, frame, c, 21)
      if (Math.abs(ratio - 1) > BALANCED) divide(frame, ratio, c, 3)
    }
  }
}

function ratioTo(empty: Float32Array, frame: Float32Array, from: number, step: number): number {
  const ratios: number[] = []
  for (let i = from; i < frame.length; i += step) if (empty[i] > 30) ratios.push(frame[i] / empty[i])
  return ratios.length > 0 ? Float64Array.from(ratios).sort()[ratios.length >> 1] : 1
}

function divide(frame: Float32Array, ratio: number, from: number, step: number): void {
  for (let i = from; i < frame.length; i += step) frame[i] = Math.min(255, frame[i] / ratio)
}

/** How much each place moves round its clean plate, in codes: MAD over the frames that are within reach of it. */
function wander({ codes }: Blocks, empty: Float32Array): Float32Array {
  const near = 4 * BIN
  const out = new Float32Array(empty.length)
  const off = new Float32Array(codes.length)
  for (let i = 0; i < empty.length; i++) {
    let n = 0
    for (const frame of codes) {
      const d = Math.abs(frame[i] - empty[i])
      if (d <= near) off[n++] = d
    }
    out[i] = MAD_TO_SIGMA * off.subarray(0, n).sort()[n >> 1]
  }
  return out
}

function judge(
  frame: Float32Array,
  empty: Float32Array,
  sigma: Float32Array,
  width: number,
  height: number,
): Uint8Array {
  const out = new Uint8Array(width * height)
  const d = new Float32Array(frame.length)
  for (let i = 0; i < d.length; i++) d[i] = frame[i] - empty[i]
  for (let y = 0, p = 0; y < height; y++) {
    for (let x = 0; x < width; x++, p++) {
      for (let c = 0; c < 3 && out[p] < 2; c++) {
        const i = 3 * p + c
        if (Math.abs(d[i]) > Math.max(SURELY, SURELY_SIGMA * sigma[i])) out[p] = 2
        else if (x > 0 && y > 0 && x < width - 1 && y < height - 1) {
          let sum = 0
          for (let v = -1; v <= 1; v++) for (let u = -1; u <= 1; u++) sum += d[i + 3 * (v * width + u)]
          if (Math.abs(sum / 9) > Math.max(PERHAPS, PERHAPS_SIGMA * sigma[i])) out[p] = 1
        }
      }
    }
  }
  return out
}
