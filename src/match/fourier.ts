// Correlation of two pictures at all offsets at once, by way of their Fourier transforms, each of them counting only where
// it says something: D. Padfield, Masked Object Registration in the Fourier Domain (IEEE TIP 2012), eq. 5 to 10.
import FFT from 'fft.js'
import type { Plane } from '../raster/plane.js'

/** A picture and what of it counts (1 or 0), ready to be correlated. */
export interface Spectra {
  /** Of the picture times its mask, of its square likewise, and of the mask: complex, row by row. */
  readonly value: Float64Array
  readonly square: Float64Array
  readonly mask: Float64Array
}

/** Pictures up to half of its size each way. */
export class Fourier {
  readonly #rows: FFT
  readonly #columns: FFT
  readonly #line: Float64Array
  readonly #out: Float64Array

  /** @param width of the transform, a power of two; `height` likewise */
  constructor(
    readonly width: number,
    readonly height: number,
  ) {
    this.#rows = new FFT(width)
    this.#columns = new FFT(height)
    this.#line = new Float64Array(2 * Math.max(width, height))
    this.#out = new Float64Array(2 * Math.max(width, height))
  }

  /** The least that two pictures of these sizes can be correlated in. */
  static forPictures(width: number, height: number): Fourier {
    const above = (n: number) => 2 ** Math.ceil(Math.log2(Math.max(2, n)))
    return new Fourier(above(width), above(height))
  }

  /** @param counts 1 where a pixel says something */
  spectraOf({ width, height, data }: Plane, counts: Readonly<Uint8Array>): Spectra {
    const both = new Float64Array(2 * this.width * this.height)
    const mask = new Float64Array(both.length)
    for (let y = 0, i = 0; y < height; y++)
      for (let x = 0, at = 2 * y * this.width; x < width; x++, i++, at += 2) {
        if (counts[i] !== 1) continue
        both[at] = data[i]
        both[at + 1] = data[i] * data[i]
        mask[at] = 1
      }
    const [value, square] = this.#apart(this.#transformed(both, false))
    return { value, square, mask: this.#transformed(mask, false) }
  }

  /**
   * Correlation coefficients of a reference with a donor moved by every offset; 0 where fewer than `leastShared` pixels
   * of both are seen.
   *
   * @returns over offsets modulo the transform's size: that of (dx, dy) is at (dy mod height) * width + (dx mod width)
   */
  correlate(reference: Spectra, donor: Spectra, leastShared: number): Float64Array {
    return this.#compare(reference, donor, leastShared, 0, (covariance, varianceR, varianceD, n) => {
      const least = 1e-6 * n
      return varianceR > least && varianceD > least ? covariance / Math.sqrt(varianceR * varianceD) : 0
    })
  }

  /**
   * RMS difference of a reference and a donor moved by every offset, after the mean difference is taken out; infinite where
   * fewer than `leastShared` pixels of both are seen. Laid out as `correlate` has it.
   */
  differ(reference: Spectra, donor: Spectra, leastShared: number): Float64Array {
    return this.#compare(
      reference,
      donor,
      leastShared,
      Number.POSITIVE_INFINITY,
      (covariance, varianceR, varianceD, n) =>
        Math.sqrt(Math.max(0, varianceR + varianceD - 2 * covariance) / n),
    )
  }

  #compare(
    reference: Spectra,
    donor: Spectra,
    leastShared: number,
    nothing: number,
    of: (covariance: number, varianceR: number, varianceD: number, n: number) => number,
  ): Float64Array {
    // The real part of each is the first pair's sum, the imaginary part the second's.
    const counted = this.#products(reference.mask, donor.mask, reference.value, donor.value)
    const sums = this.#products(reference.value, donor.mask, reference.mask, donor.value)
    const squares = this.#products(reference.square, donor.mask, reference.mask, donor.square)
    const out = new Float64Array(this.width * this.height)
    for (let i = 0, j = 0; i < out.length; i++, j += 2) {
      const n = counted[j]
      out[i] =
        n < leastShared
          ? nothing
          : of(
              counted[j + 1] - (sums[j] * sums[j + 1]) / n,
              squares[j] - (sums[j] * sums[j]) / n,
              squares[j + 1] - (sums[j + 1] * sums[j + 1]) / n,
              n,
            )
    }
    return out
  }

  /** sum over p of a(p) b(p - d) for every d, and of c(p) e(p - d) as the imaginary part: both are real. */
  #products(
    a: Readonly<Float64Array>,
    b: Readonly<Float64Array>,
    c: Readonly<Float64Array>,
    e: Readonly<Float64Array>,
  ): Float64Array {
    const out = new Float64Array(a.length)
    for (let i = 0; i < a.length; i += 2) {
      const real = a[i] * b[i] + a[i + 1] * b[i + 1]
      const imaginary = a[i + 1] * b[i] - a[i] * b[i + 1]
      out[i] = real - (c[i + 1] * e[i] - c[i] * e[i + 1])
      out[i + 1] = imaginary + (c[i] * e[i] + c[i + 1] * e[i + 1])
    }
    return this.#transformed(out, true)
  }

  /** The transforms of the real and the imaginary part of a picture, from the transform of both: they mirror each other. */
  #apart(both: Readonly<Float64Array>): [real: Float64Array, imaginary: Float64Array] {
    const { width, height } = this
    const [real, imaginary] = [new Float64Array(both.length), new Float64Array(both.length)]
    for (let y = 0; y < height; y++)
      for (let x = 0; x < width; x++) {
        const i = 2 * (y * width + x)
        const j = 2 * (((height - y) % height) * width + ((width - x) % width))
        real[i] = (both[i] + both[j]) / 2
        real[i + 1] = (both[i + 1] - both[j + 1]) / 2
        imaginary[i] = (both[i + 1] + both[j + 1]) / 2
        imaginary[i + 1] = (both[j] - both[i]) / 2
      }
    return [real, imaginary]
  }

  #transformed(data: Float64Array, inverse: boolean): Float64Array {
    const { width, height } = this
    const run = (fft: FFT, line: Float64Array, out: Float64Array) =>
      inverse ? fft.inverseTransform(out, line) : fft.transform(out, line)
    const row = this.#line.subarray(0, 2 * width)
    const rowOut = this.#out.subarray(0, 2 * width)
    for (let y = 0; y < height; y++) {
      row.set(data.subarray(2 * y * width, 2 * (y + 1) * width))
      run(this.#rows, row, rowOut)
      data.set(rowOut, 2 * y * width)
    }
    const column = this.#line.subarray(0, 2 * height)
    const columnOut = this.#out.subarray(0, 2 * height)
    for (let x = 0; x < width; x++) {
      for (let y = 0, i = 2 * x; y < height; y++, i += 2 * width) {
        column[2 * y] = data[i]
        column[2 * y + 1] = data[i + 1]
      }
      run(this.#columns, column, columnOut)
      for (let y = 0, i = 2 * x; y < height; y++, i += 2 * width) {
        data[i] = columnOut[2 * y]
        data[i + 1] = columnOut[2 * y + 1]
      }
    }
    return data
  }
}
