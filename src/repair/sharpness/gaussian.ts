// A small Gaussian blur of pictures with holes, of all of a picture or of tiles of it.
import { type Frame, frame } from '../../raster/frame.js'

/** Taps reach so many sigma: beyond lies less than a ten-thousandth. */
const REACH_SIGMA = 4

/**
 * The Gaussian at whole pixels, an odd number of taps whose sum is 1. Never below 0, so that no highlight gets a dark ring. It
 * passes exp(-2 pi^2 sigma^2 f^2) of a wave of f cycles per pixel, and of waves near half a cycle as much again, since what the
 * Gaussian has beyond half a cycle comes back there (Poisson's summation formula).
 *
 * @param sigma pixels, above 0
 */
export function gaussianTaps(sigma: number): Float64Array {
  const radius = Math.ceil(REACH_SIGMA * sigma)
  const out = Float64Array.from({ length: 2 * radius + 1 }, (_, i) =>
    Math.exp(-0.5 * ((i - radius) / sigma) ** 2),
  )
  const sum = out.reduce((a, b) => a + b, 0)
  return out.map((v) => v / sum)
}

/**
 * @param picture RGB
 * @param there   1 where a pixel has a value: the others, and what lies beyond the picture, give nothing
 * @returns the picture blurred; a pixel that is not there stays as it is
 */
export function blurred(picture: Frame, there: Readonly<Uint8Array>, sigma: number): Frame {
  const [height, width] = picture.shape
  const taps = gaussianTaps(sigma)
  const share = Float32Array.from(there)
  const across = along(masked(picture.data, there), share, width, height, 1, taps)
  const down = along(across.sums, across.share, height, width, width, taps)
  const data = picture.data.slice()
  for (let i = 0; i < there.length; i++)
    if (there[i] === 1) for (let c = 3 * i; c < 3 * i + 3; c++) data[c] = down.sums[c]! / down.share[i]!
  return frame(height, width, 3, data)
}

function masked(data: Readonly<Float32Array>, there: Readonly<Uint8Array>): Float32Array {
  const out = new Float32Array(data.length)
  for (let i = 0; i < there.length; i++)
    if (there[i] === 1) for (let c = 3 * i; c < 3 * i + 3; c++) out[c] = data[c]!
  return out
}

interface Sums {
  readonly sums: Float32Array
  readonly share: Float32Array
}

/** @param length pixels of a line, `step` apart; of `lines` such lines */
function along(
  from: Readonly<Float32Array>,
  share: Readonly<Float32Array>,
  length: number,
  lines: number,
  step: number,
  taps: Readonly<Float64Array>,
): Sums {
  const radius = taps.length >> 1
  const next = step === 1 ? length : 1
  const out = { sums: new Float32Array(from.length), share: new Float32Array(share.length) }
  for (let line = 0; line < lines; line++)
    for (let k = 0; k < length; k++) {
      let [r, g, b, w] = [0, 0, 0, 0]
      for (let t = Math.max(0, k - radius); t <= Math.min(length - 1, k + radius); t++) {
        const tap = taps[t - k + radius]!
        const i = line * next + t * step
        r += tap * from[3 * i]!
        g += tap * from[3 * i + 1]!
        b += tap * from[3 * i + 2]!
        w += tap * share[i]!
      }
      const to = line * next + k * step
      out.sums[3 * to] = r
      out.sums[3 * to + 1] = g
      out.sums[3 * to + 2] = b
      out.share[to] = w
    }
  return out
}

/** Small squares of one channel as `blurred` has them, without the rest of the picture. */
export class TileBlur {
  readonly #taps: Float64Array
  readonly #sums: Float32Array
  readonly #share: Float32Array

  /** @param side of a tile, pixels */
  constructor(
    readonly side: number,
    sigma: number,
  ) {
    this.#taps = gaussianTaps(sigma)
    const rows = side + this.#taps.length - 1
    this.#sums = new Float32Array(rows * side)
    this.#share = new Float32Array(rows * side)
  }

  /**
   * @param picture RGB
   * @param there   as `blurred`; 1 all over the tile
   * @param corner  the tile's first pixel
   * @param out     receives side x side samples
   */
  tile(
    { data, shape: [height, width] }: Frame,
    there: Readonly<Uint8Array>,
    channel: number,
    corner: number,
    out: Float64Array,
  ): void {
    const left = corner % width
    const top = (corner - left) / width
    const radius = this.#taps.length >> 1
    const first = Math.max(0, top - radius)
    const last = Math.min(height, top + this.side + radius)
    for (let y = first; y < last; y++) this.#across(data, there, channel, y * width, width, left, y - first)
    for (let y = 0; y < this.side; y++) this.#down(top + y - first, last - first, out, y * this.side)
  }

  /** One row, at its tile's columns. */
  #across(
    data: Readonly<Float32Array>,
    there: Readonly<Uint8Array>,
    channel: number,
    row: number,
    width: number,
    left: number,
    to: number,
  ): void {
    const taps = this.#taps
    const radius = taps.length >> 1
    for (let x = 0, at = to * this.side; x < this.side; x++, at++) {
      const k = left + x
      let [sum, share] = [0, 0]
      for (let t = Math.max(0, k - radius); t <= Math.min(width - 1, k + radius); t++) {
        if (there[row + t] !== 1) continue
        const tap = taps[t - k + radius]!
        sum += tap * data[3 * (row + t) + channel]!
        share += tap
      }
      this.#sums[at] = sum
      this.#share[at] = share
    }
  }

  /** @param k row of `rows` that were blurred across */
  #down(k: number, rows: number, out: Float64Array, to: number): void {
    const [taps, sums, shares] = [this.#taps, this.#sums, this.#share]
    const radius = taps.length >> 1
    for (let x = 0; x < this.side; x++) {
      let [sum, share] = [0, 0]
      for (let t = Math.max(0, k - radius); t <= Math.min(rows - 1, k + radius); t++) {
        const tap = taps[t - k + radius]!
        sum += tap * sums[t * this.side + x]!
        share += tap * shares[t * this.side + x]!
      }
      // Rounded on the way as a picture of single precision is.
      out[to + x] = Math.fround(Math.fround(sum) / Math.fround(share))
    }
  }
}
