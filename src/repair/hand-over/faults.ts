// What can be wrong with the samples of a frame that was written. Nothing here opens a file.
import { floatsToHalves, halfToFloat } from '../../raster/half.js'

/** Some of what may be found, in words that follow "on frame 1002". */
export const FAULTS = {
  nan: 'samples are no finite numbers',
  alpha: 'alpha lies outside 0 to 1',
  outside: 'there is something outside the feathered mask',
  ratio: 'the ratio is not 1 outside the feathered mask',
  plate: "samples outside the feathered mask are not the plate's own",
} as const

/**
 * A patch: finite, alpha from 0 to 1, and nothing where alpha is 0 or beyond the feathered mask.
 *
 * @param colours RGB, row-major
 * @param open    per pixel 1 where the patch may lie
 */
export function patchFaults(
  colours: Readonly<Float32Array>,
  alpha: Readonly<Float32Array>,
  open: Readonly<Uint8Array>,
): string[] {
  let nan = !allFinite(alpha)
  let range = false
  let outside = false
  for (let i = 0, j = 0; i < alpha.length; i++, j += 3) {
    const a = alpha[i]
    if (a < 0 || a > 1) range = true
    const sum = colours[j] + colours[j + 1] + colours[j + 2]
    if (sum - sum !== 0) nan = true
    const nothing = colours[j] === 0 && colours[j + 1] === 0 && colours[j + 2] === 0
    if ((a === 0 && !nothing) || (open[i] === 0 && a !== 0)) outside = true
  }
  return [
    ...(nan ? [FAULTS.nan] : []),
    ...(range ? [FAULTS.alpha] : []),
    ...(outside ? [FAULTS.outside] : []),
  ]
}

/** A ratio: finite and not below 0, and exactly 1 beyond the feathered mask. */
export function ratioFaults(factors: Readonly<Float32Array>, open: Readonly<Uint8Array>): string[] {
  let outside = false
  for (let i = 0, j = 0; i < open.length; i++, j += 3) {
    if (open[i] === 0 && !(factors[j] === 1 && factors[j + 1] === 1 && factors[j + 2] === 1)) outside = true
  }
  return [...(allFinite(factors) ? [] : [FAULTS.nan]), ...(outside ? [FAULTS.ratio] : [])]
}

/**
 * A whole frame: the plate's own samples bit by bit beyond the feathered mask, and finite numbers within.
 *
 * @param halves the samples were written as halves: those of a plate that stores light and colour differences come out of a
 *   sum, and were rounded to them
 */
export function wholeFaults(
  samples: Readonly<Float32Array>,
  plate: Readonly<Float32Array>,
  open: Readonly<Uint8Array>,
  halves: boolean,
): string[] {
  let nan = false
  let changed = false
  for (let i = 0, j = 0; i < open.length; i++) {
    for (let c = 0; c < 3; c++, j++) {
      if (open[i] === 0)
        changed ||= !Object.is(samples[j], plate[j]) && !(halves && Object.is(samples[j], toHalf(plate[j])))
      else if (samples[j] - samples[j] !== 0) nan = true
    }
  }
  return [...(nan ? [FAULTS.nan] : []), ...(changed ? [FAULTS.plate] : [])]
}

function allFinite(values: Readonly<Float32Array>): boolean {
  for (let i = 0; i < values.length; i++) if (values[i] - values[i] !== 0) return false
  return true
}

function toHalf(value: number): number {
  const half = new Uint16Array(1)
  floatsToHalves(Float32Array.of(value), half)
  return halfToFloat(half[0])
}
