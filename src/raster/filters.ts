// The filters that pictures are resampled with, and the taps that they make of a shift.

/** An interpolation kernel: `radius` taps either side, `at(x)` its value at distance x in pixels. */
export interface Filter {
  readonly radius: number
  at(x: number): number
}

/** The nearest sample, halves to the larger shift as `Math.round` has it: for what can't be averaged. 1 tap. */
export const NEAREST: Filter = { radius: 0.5, at: () => 1 }

/** Straight lines between neighbours, 2 x 2 taps. */
export const BILINEAR: Filter = { radius: 1, at: (x) => Math.max(0, 1 - Math.abs(x)) }

/** Catmull-Rom cubic (R. Keys, Cubic Convolution Interpolation, 1981, a = -0.5): for matching, 4 x 4 taps. */
export const CUBIC: Filter = {
  radius: 2,
  at(x) {
    const d = Math.abs(x)
    if (d < 1) return (1.5 * d - 2.5) * d * d + 1
    return d < 2 ? ((-0.5 * d + 2.5) * d - 4) * d + 2 : 0
  },
}

/** Lanczos with three lobes: for pixels that are lent, 6 x 6 taps. */
export const LANCZOS3: Filter = {
  radius: 3,
  at(x) {
    // Nearer than this the value is 1 to the last bit, and p * p could vanish into 0 / 0.
    if (Math.abs(x) < 1e-9) return 1
    if (Math.abs(x) >= 3) return 0
    const p = Math.PI * x
    return (3 * Math.sin(p) * Math.sin(p / 3)) / (p * p)
  },
}

export interface Taps {
  readonly start: number
  readonly weights: Float64Array
}

/**
 * The taps that sample a picture `shift` pixels to the left of each pixel: out[x] = sum weights[k] * in[x + start + k].
 * They add up to 1, so flat pictures stay flat. A whole-pixel shift has the one tap 1.
 */
export function taps(shift: number, filter: Filter): Taps {
  const base = Math.floor(-shift)
  if (-shift === base || filter.radius < 1)
    return { start: 0 - Math.round(shift), weights: Float64Array.of(1) }
  return filterTaps(shift, filter)
}

/** As `taps`, but always as many as the filter has, those of weight 0 among them. For filters of whole radius. */
export function filterTaps(shift: number, filter: Filter): Taps {
  const base = Math.floor(-shift)
  const fraction = -shift - base
  const weights = new Float64Array(2 * filter.radius)
  const start = base - filter.radius + 1
  let sum = 0
  for (let k = 0; k < weights.length; k++) {
    weights[k] = filter.at(k - filter.radius + 1 - fraction)
    sum += weights[k]
  }
  for (let k = 0; k < weights.length; k++) weights[k] /= sum
  return { start, weights }
}

/** Share of white noise's variance that a shift leaves. */
export function shiftPower(dx: number, dy: number, filter: Filter): number {
  return tapsPower(dx, filter) * tapsPower(dy, filter)
}

/** The squares of `taps` summed, without making them: pairs of frames ask for it by the ten thousand. */
function tapsPower(shift: number, { radius, at }: Filter): number {
  const base = Math.floor(-shift)
  const fraction = -shift - base
  if (fraction === 0 || radius < 1) return 1
  let all = 0
  for (let k = 1 - radius; k <= radius; k++) all += at(k - fraction)
  let power = 0
  for (let k = 1 - radius; k <= radius; k++) {
    const weight = at(k - fraction) / all
    power += weight * weight
  }
  return power
}
