// Puts grain into a picture: white noise under the filters of what is lacking, mixed into the channels, as strong as the
// light of each pixel asks.
import { addFiltered } from '../../kernels/noise.js'
import type { Workspace } from '../../kernels/workspace.js'
import type { Frame } from '../../raster/frame.js'
import type { Fit } from './fit.js'
import type { Lacking } from './lacking.js'
import { type GrainModel, grainOver, varianceOf } from './model.js'
import { TileTransform } from './spectrum.js'

/** Parts of noise with less than this share of the plate's variance are not made: nobody would see them. */
export const LEAST_PART = 1e-3

export interface WhiteFields {
  /** Per component, over the picture. */
  fresh(component: number): Readonly<Float32Array>
  lasting(component: number): Readonly<Float32Array>
}

/**
 * @param picture linear RGB, changed in place
 * @param fit     per pixel, what of the lacking noise it takes
 * @param share   per pixel a factor of that; 0 leaves it as it is
 */
export function addGrain(
  workspace: Workspace,
  { data, shape: [height, width] }: Frame,
  model: GrainModel,
  lacking: Lacking,
  white: WhiteFields,
  fit: Fit,
  share: Readonly<Float32Array>,
): void {
  const transform = new TileTransform()
  const all = model.whole.reduce((sum, s) => sum + varianceOf(s), 0)
  const pixels = width * height
  const noise = [0, 1, 2].map(() => new Float32Array(pixels))
  const field = new Float32Array(pixels)
  const takings = new Float32Array(pixels)
  for (let k = 0; k < 3; k++) {
    field.fill(0)
    let isMade = false
    for (const [spectra, of, takes] of [
      [lacking.change, white.fresh, fit.fresh],
      [lacking.absent, white.lasting, fit.lasting],
    ] as const) {
      if (varianceOf(spectra[k]!) <= LEAST_PART * all) continue
      for (let i = 0; i < pixels; i++) takings[i] = takes[i]! * share[i]! * (model.where?.[i] ?? 1)
      const { radius, weights } = transform.filterOf(spectra[k]!)
      // With its surroundings laid round it, so that the taps of a row lie side by side.
      const around = { data: goneRound(of(k), width, height, radius), stride: width + 2 * radius }
      addFiltered(workspace, around, weights, takings, field, width)
      isMade = true
    }
    if (!isMade) continue
    for (const [c, own] of noise.entries()) {
      const m = model.mix[3 * c + k]!
      for (let i = 0; i < pixels; i++) own[i]! += m * field[i]!
    }
  }
  const strength = field
  for (const [c, own] of noise.entries()) {
    for (let i = 0; i < pixels; i++) strength[i] = data[3 * i + c]!
    grainOver(workspace, model, c, strength)
    for (let i = 0; i < pixels; i++) if (own[i] !== 0) data[3 * i + c]! += strength[i]! * own[i]!
  }
}

/** A picture with `room` pixels more on every side, in which it begins again. */
function goneRound(
  picture: Readonly<Float32Array>,
  width: number,
  height: number,
  room: number,
): Float32Array {
  const around = (i: number, n: number) => ((i % n) + n) % n
  const columns = Int32Array.from({ length: width + 2 * room }, (_, x) => around(x - room, width))
  const out = new Float32Array(columns.length * (height + 2 * room))
  for (let y = 0, to = 0; y < height + 2 * room; y++) {
    const row = around(y - room, height) * width
    for (let x = 0; x < columns.length; x++, to++) out[to] = picture[row + columns[x]!]!
  }
  return out
}
