// Lent pixels that are sharper than the plate, blurred, and what of their detail is wanted then.
import { detailIn, GREEN, greenPower } from '../grain/detail-spectrum.js'
import { grainDetail } from '../grain/fit.js'
import type { GrainModel, Spectrum } from '../grain/model.js'
import { blurred } from '../sharpness/gaussian.js'
import { blurResponse } from '../sharpness/match.js'
import type { Blended } from './blend.js'

/**
 * Lent pixels under a blur, and what is then known of their detail: texture is blurred, and grain is wanted as it was.
 *
 * @param model null: nobody asked for the detail
 */
export function blurredLent(lent: Blended, sigma: number, model: GrainModel | null): Blended {
  const matched = blurred(lent.matched, lent.there, sigma)
  const { detail } = lent
  if (detail === null || model === null) return { ...lent, matched }
  const under = blurResponse(sigma)
  const grain = new Float32Array(lent.there.length)
  let mean = 0
  for (let i = 0; i < grain.length; i++) {
    grain[i] = grainDetail(model, model.whole, matched.data[3 * i + GREEN]!, i)
    mean += grain[i]! / grain.length
  }
  const noise = greenNoise(model, mean)
  const texture = detail.spectrum.map((v, i) => Math.max(0, v - noise[i]!))
  const left = detailIn(texture.map((v, i) => v * under[i]!)) / Math.max(1e-12, detailIn(texture))
  return {
    ...lent,
    matched,
    detail: {
      spectrum: detail.spectrum.map((v, i) => v - texture[i]! * (1 - under[i]!)),
      energy: detail.energy.map((v, i) => v - Math.max(0, v - grain[i]!) * (1 - left)),
    },
  }
}

/** Power of green's grain at each frequency where its detail has so much variance. */
function greenNoise(model: GrainModel, detail: number): Spectrum {
  const unit = greenPower(model, model.whole)
  const scale = detail / Math.max(1e-12, detailIn(unit))
  return unit.map((v) => v * scale)
}
