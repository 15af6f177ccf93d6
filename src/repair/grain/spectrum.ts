// Power spectra of small tiles, and the filter that gives white noise such a spectrum.
import FFT from 'fft.js'
import { type Spectrum, TILE_PX } from './model.js'

const SIZE = TILE_PX
const PIXELS = SIZE * SIZE
/** Taps below this share of the largest are left out, from the rim inwards: nobody sees them, and each costs time. */
const SMALLEST_TAP = 0.01

/**
 * Hann's window in both directions, of mean square 1, so that noise keeps its variance (F. J. Harris, On the Use of Windows
 * for Harmonic Analysis, Proc. IEEE 1978; half a sample in, so that it is symmetric).
 */
export const WINDOW: Readonly<Float64Array> = windowOf()

function windowOf(): Float64Array {
  const line = Float64Array.from({ length: SIZE }, (_, i) => Math.sin((Math.PI * (i + 0.5)) / SIZE) ** 2)
  const out = new Float64Array(PIXELS)
  for (let y = 0, i = 0; y < SIZE; y++) for (let x = 0; x < SIZE; x++, i++) out[i] = line[x]! * line[y]!
  const meanSquare = out.reduce((sum, v) => sum + v * v, 0) / PIXELS
  return out.map((v) => v / Math.sqrt(meanSquare))
}

/** Transforms of tiles; the scratch is its own. */
export class TileTransform {
  readonly #fft = new FFT(SIZE)
  readonly #line = new Float64Array(2 * SIZE)
  readonly #out = new Float64Array(2 * SIZE)
  readonly #whole = new Float64Array(2 * PIXELS)

  /**
   * Adds a tile's power, times `weight`, to a spectrum.
   *
   * @param tile TILE_PX x TILE_PX samples, row by row, of mean near 0
   */
  addPower(tile: Readonly<Float64Array>, weight: number, into: Spectrum): void {
    const whole = this.#whole
    for (let i = 0; i < PIXELS; i++) {
      whole[2 * i] = tile[i]! * WINDOW[i]!
      whole[2 * i + 1] = 0
    }
    this.#transform(whole)
    for (let i = 0; i < PIXELS; i++)
      into[i]! += (weight * (whole[2 * i]! ** 2 + whole[2 * i + 1]! ** 2)) / PIXELS
  }

  /**
   * The filter that turns white noise of variance 1 into noise of this spectrum, without moving it.
   *
   * @returns an odd number of taps a side, row by row; the taps' squares add up to the spectrum's variance
   */
  filterOf(spectrum: Readonly<Spectrum>): NoiseFilter {
    const whole = this.#whole
    for (let i = 0; i < PIXELS; i++) {
      whole[2 * i] = Math.sqrt(Math.max(0, spectrum[i]!))
      whole[2 * i + 1] = 0
    }
    // Of a spectrum that is the same forwards and back the inverse transform is the forward one over the number of samples.
    this.#transform(whole)
    const reach = SIZE / 2 - 1
    const at = (x: number, y: number) =>
      whole[2 * (((y + SIZE) % SIZE) * SIZE + ((x + SIZE) % SIZE))]! / PIXELS
    const largest = Math.abs(at(0, 0))
    let radius = reach
    const rim = (r: number) => {
      let most = 0
      for (let k = -r; k <= r; k++)
        for (const v of [at(k, -r), at(k, r), at(-r, k), at(r, k)]) most = Math.max(most, Math.abs(v))
      return most
    }
    while (radius > 0 && rim(radius) <= SMALLEST_TAP * largest) radius--
    const side = 2 * radius + 1
    const weights = new Float32Array(side * side)
    let squares = 0
    for (let y = -radius, i = 0; y <= radius; y++)
      for (let x = -radius; x <= radius; x++, i++) {
        weights[i] = at(x, y)
        squares += weights[i]! ** 2
      }
    // What was cut off at the rim is given back to all.
    let variance = 0
    for (const power of spectrum) variance += Math.max(0, power)
    const scale = squares > 0 ? Math.sqrt(variance / PIXELS / squares) : 0
    return { radius, weights: weights.map((w) => w * scale) }
  }

  #transform(whole: Float64Array): void {
    this.#lines(whole, 1, SIZE)
    this.#lines(whole, SIZE, 1)
  }

  #lines(whole: Float64Array, step: number, next: number): void {
    const [line, out] = [this.#line, this.#out]
    for (let k = 0; k < SIZE; k++) {
      for (let i = 0; i < SIZE; i++) {
        const at = 2 * (k * next + i * step)
        line[2 * i] = whole[at]!
        line[2 * i + 1] = whole[at + 1]!
      }
      this.#fft.transform(out, line)
      for (let i = 0; i < SIZE; i++) {
        const at = 2 * (k * next + i * step)
        whole[at] = out[2 * i]!
        whole[at + 1] = out[2 * i + 1]!
      }
    }
  }
}

export interface NoiseFilter {
  readonly radius: number
  readonly weights: Readonly<Float32Array>
}

/**
 * What a shift by a filter's taps leaves of noise at each frequency, 0 to 1 and more where the filter sharpens: the squared
 * length of the taps' transform.
 *
 * @param across taps of the columns; `down` of the rows
 */
export function responseOf(across: Readonly<Float64Array>, down: Readonly<Float64Array>): Spectrum {
  const [x, y] = [lineResponse(across), lineResponse(down)]
  const out = new Float64Array(PIXELS)
  for (let v = 0, i = 0; v < SIZE; v++) for (let u = 0; u < SIZE; u++, i++) out[i] = x[u]! * y[v]!
  return out
}

function lineResponse(weights: Readonly<Float64Array>): Float64Array {
  return Float64Array.from({ length: SIZE }, (_, u) => {
    let [re, im] = [0, 0]
    for (let k = 0; k < weights.length; k++) {
      re += weights[k]! * Math.cos((2 * Math.PI * u * k) / SIZE)
      im += weights[k]! * Math.sin((2 * Math.PI * u * k) / SIZE)
    }
    return re * re + im * im
  })
}
