// The lift's formulas, straight: see `src/repair/lighting/estimate.ts` and `bands.ts` for their sources.
import type { BandGrain, LogRatios } from '../../../src/repair/lighting/bands.js'

function means(data: readonly number[], width: number, radius: number): number[] {
  const height = data.length / width
  const at = (x0: number, x1: number, y0: number, y1: number) => {
    let sum = 0
    let n = 0
    for (let y = Math.max(0, y0); y <= Math.min(height - 1, y1); y++)
      for (let x = Math.max(0, x0); x <= Math.min(width - 1, x1); x++, n++) sum += data[y * width + x]
    return sum / n
  }
  return data.map((_, i) => {
    const x = i % width
    const y = Math.floor(i / width)
    return at(x - radius, x + radius, y - radius, y + radius)
  })
}

export function blur(data: readonly number[], width: number, radius: number): number[] {
  return means(means(means(data, width, radius), width, radius), width, radius)
}

export function ratioAt(
  donor: readonly number[],
  reference: readonly number[],
  validity: readonly number[],
  noise: readonly number[],
  width: number,
  radius: number,
): number[] {
  let ratio = donor.map(() => 1)
  for (let round = 0; round < 2; round++) {
    const under = reference.map((q, i) => q * ratio[i])
    const a = blur(
      under.map((q, i) => validity[i] * q * donor[i]),
      width,
      radius,
    )
    const b = blur(
      under.map((q, i) => validity[i] * q * q),
      width,
      radius,
    )
    ratio = ratio.map((r, i) => {
      const lambda = Math.max(noise[i] / (4 * Math.PI * radius * (radius + 1)), 1e-20)
      return Math.max(2 ** -8, (r * (a[i] + lambda * r)) / (b[i] + lambda * r * r))
    })
  }
  return ratio
}

export function withoutGrain(ratios: LogRatios, grain: BandGrain, width: number): number[][] {
  const [light, ...colours] = ratios.map((planes, p) => {
    const out = [...planes[3]]
    for (const band of [2, 1, 0]) {
      const detail = out.map((_, i) => planes[band][i] - planes[band + 1][i])
      const energy = blur(
        detail.map((v) => v * v),
        width,
        2 * [1, 2, 4][band],
      )
      for (let i = 0; i < out.length; i++) {
        const most = 2 * grain[p][band][i] * 2 ** Math.max(0, -ratios[0][band + 1][i])
        if (energy[i] > most) out[i] += detail[i] * (1 - most / energy[i])
      }
    }
    return out
  })
  return colours.map((colour) => colour.map((v, i) => v + light[i]))
}
