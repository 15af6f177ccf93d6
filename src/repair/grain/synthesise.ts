// Puts grain into a picture: white noise under the filters of what is lacking, mixed into the channels, as strong as the
// light of each pixel asks.
import { addFiltered, layNoise, products } from '../../kernels/noise.js'
import type { Scratch, Workspace } from '../../kernels/workspace.js'
import type { Frame } from '../../raster/frame.js'
import type { Fit } from './fit.js'
import type { Lacking } from './lacking.js'
import { DARKEST, type GrainModel, varianceOf } from './model.js'
import { TileTransform } from './spectrum.js'

/** Parts of noise with less than this share of the plate's variance are not made: nobody would see them. */
export const MIN_PART = 1e-3

export interface WhiteFields {
  /** Per component, over the picture. */
  fresh(component: number): Readonly<Float32Array>
  lasting(component: number): Readonly<Float32Array>
}

/**
 * @param picture linear RGB, changed in place
 * @param fit     per pixel, what of the lacking noise it takes; 0 of both leaves it as it is
 */
export function addGrain(
  workspace: Workspace,
  { data, shape: [height, width] }: Frame,
  model: GrainModel,
  lacking: Lacking,
  white: WhiteFields,
  fit: Fit,
): void {
  const transform = new TileTransform()
  const all = model.whole.reduce((sum, s) => sum + varianceOf(s), 0)
  const pixels = width * height
  workspace.within((scratch) => {
    const fresh = atPlace(workspace, scratch, fit.fresh, model.where)
    const lasting = atPlace(workspace, scratch, fit.lasting, model.where)
    const components = model.whole.map((_, k) => {
      let field: Float32Array | null = null
      for (const [spectra, of, takes] of [
        [lacking.change, white.fresh, fresh],
        [lacking.absent, white.lasting, lasting],
      ] as const) {
        if (varianceOf(spectra[k]!) <= MIN_PART * all) continue
        field ??= scratch.zeros(pixels)
        addFiltered(workspace, of(k), transform.filterOf(spectra[k]!).weights, takes, field, width)
      }
      return field
    })
    layNoise(workspace, data, components, model.mix, { ...model, darkest: DARKEST })
  })
}

/** What pixels take, where there is more of it and where less. */
function atPlace(
  workspace: Workspace,
  scratch: Scratch,
  takes: Readonly<Float32Array>,
  where: Readonly<Float32Array> | null,
): Readonly<Float32Array> {
  if (where === null) return scratch.laid(takes)
  const out = scratch.floats(takes.length)
  products(workspace, takes, where, out)
  return out
}
