// How far two noise spectra lie apart.
import { type Spectrum, TILE_PX } from '../grain/model.js'

/** A band of which the plate has less than this share of its strongest carries nothing. */
const CARRIES = 0.01
/** What a frozen patch is taken to have, so that no distance is infinite: 40 dB below the strongest band. */
const FLOOR = 1e-4

/**
 * Log-spectral distance: RMS over bands of the difference in dB (A. Gray, J. Markel, Distance Measures for Speech Processing,
 * IEEE Trans. ASSP 1976).
 *
 * @param unseen added to both, so that bands with nothing in them are alike
 */
export function decibelsApart(a: readonly number[], b: readonly number[], unseen: number): number {
  const sum = a.reduce((s, p, k) => s + (10 * Math.log10((p + unseen) / (b[k]! + unseen))) ** 2, 0)
  return Math.sqrt(sum / a.length)
}

/** Radially averaged power: bands of one cycle per tile, from 1 up to half a cycle per pixel. */
function radialBands(spectrum: Readonly<Spectrum>): number[] {
  const bands = TILE_PX / 2
  const power = new Float64Array(bands + 1)
  const count = new Float64Array(bands + 1)
  for (let y = 0, i = 0; y < TILE_PX; y++)
    for (let x = 0; x < TILE_PX; x++, i++) {
      const band = Math.round(Math.hypot(Math.min(x, TILE_PX - x), Math.min(y, TILE_PX - y)))
      if (band < 1 || band > bands) continue
      power[band]! += spectrum[i]!
      count[band]!++
    }
  return Array.from(power.subarray(1), (p, k) => p / count[k + 1]!)
}

/** Of a patch to the plate, dB, over the bands in which the plate has noise; null where it has none. */
export function spectrumDistance(inside: Readonly<Spectrum>, ring: Readonly<Spectrum>): number | null {
  const [own, plate] = [radialBands(inside), radialBands(ring)]
  const strongest = Math.max(...plate)
  if (!(strongest > 0)) return null
  const carrying = plate.flatMap((p, k) => (p >= CARRIES * strongest ? [k] : []))
  const of = (bands: readonly number[]) => carrying.map((k) => bands[k]!)
  return decibelsApart(of(own), of(plate), FLOOR * strongest)
}
