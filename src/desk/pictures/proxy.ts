// Whole frames brought down by a whole factor in linear light, as half floats in memory that all threads see: what
// exposure, gamma and look are applied to again and again, without decoding again.
import { floatsToHalves, HALF_NAN, HALF_VALUES } from '../../raster/half.js'

export interface ProxyPicture {
  /** Plate pixels of a side per pixel; the last columns and rows that don't fill one are left out. */
  readonly factor: number
  readonly width: number
  readonly height: number
  /** Linear RGB, row-major, in a SharedArrayBuffer; NaN where there is no picture. */
  readonly halves: Uint16Array
}

export function proxyOf(
  halves: Readonly<Uint16Array>,
  width: number,
  height: number,
  factor: number,
): ProxyPicture {
  const [w, h] = [Math.floor(width / factor), Math.floor(height / factor)]
  const out = new Uint16Array(new SharedArrayBuffer(2 * 3 * w * h))
  if (factor === 1) out.set(halves)
  else meansOver(halves, width, factor, w, h, out)
  return { factor, width: w, height: h, halves: out }
}

/** Means over squares, of what of each is a number. */
function meansOver(
  halves: Readonly<Uint16Array>,
  width: number,
  factor: number,
  w: number,
  h: number,
  out: Uint16Array,
): void {
  const sums = new Float32Array(3 * w)
  const counts = new Uint16Array(3 * w)
  const line = new Uint16Array(3 * w)
  for (let y = 0; y < h; y++) {
    sums.fill(0)
    counts.fill(0)
    for (let row = 0; row < factor; row++) {
      let from = 3 * (y * factor + row) * width
      for (let x = 0; x < 3 * w; x += 3)
        for (let k = 0; k < factor; k++)
          for (let c = x; c < x + 3; c++, from++) {
            const light = HALF_VALUES[halves[from]!]!
            if (light - light !== 0) continue
            sums[c] += light
            counts[c]++
          }
    }
    for (let i = 0; i < sums.length; i++) sums[i] /= counts[i]!
    floatsToHalves(sums, line)
    for (let i = 0; i < line.length; i++) out[3 * y * w + i] = counts[i]! > 0 ? line[i]! : HALF_NAN
  }
}
