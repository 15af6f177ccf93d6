// What a target is multiplied by, from arrays alone: the donor over its own reference state, without grain, guessed where
// neither light nor surface is known; then the multiplication.
import { powers } from '../../kernels/ratio.js'
import type { Workspace } from '../../kernels/workspace.js'
import { type Frame, frame } from '../../raster/frame.js'
import type { Moment } from '../../search/result.js'
import { type BandGrain, type Channels, logRatios, withoutGrain } from './bands.js'
import { DEEPER, fillHoles, type Occluders } from './occluders.js'
import { both, channelsOf, type Lit, type ReferenceState, referenceAt } from './reference-state.js'

/** What a moment's unlit frames tell on one target frame's grid. */
export interface Unlit {
  readonly reference: ReferenceState
  /** Absent where the moment is no light: lifting it shows what it is. */
  readonly occluders: Occluders | undefined
  readonly grain: BandGrain
  readonly moment: Pick<Moment, 'sign' | 'depthStops'>
}

/**
 * @param number the donor's frame number
 * @param gain   brings the reference state's light to the donor's
 * @param width  of the window
 * @returns log2 of the factors of R, G and B over the window: stops
 */
export function stopsOf(
  workspace: Workspace,
  lent: Lit,
  { reference, occluders, grain, moment }: Unlit,
  number: number,
  gain: readonly number[],
  width: number,
): Float32Array[] {
  const base = referenceAt(reference, number, gain)
  const donor = channelsOf(lent)
  const validity = both(reference.validity, occluders?.validity(donor, lent.validity, base) ?? lent.validity)
  const ratios = logRatios(workspace, donor, base, validity, reference.noise, width)
  const stops = withoutGrain(workspace, ratios, grain, width)
  fillHoles(stops, validity, width)
  if (moment.sign === 'brighter') raiseClipped(stops, donor, base, lent.clipLevel, moment.depthStops)
  return stops
}

/**
 * Where a gleam clips a channel its light is at least what the donor shows of it, whatever was guessed, and the other channels are as
 * they show it. What clips by more than light can is a white coat.
 */
function raiseClipped(
  stops: readonly Float32Array[],
  donor: Channels,
  base: Channels,
  clipLevel: number,
  depthStops: number,
): void {
  const shown = new Float64Array(3)
  for (let i = 0; i < donor[0].length; i++) {
    if (!(donor[0][i] >= clipLevel || donor[1][i] >= clipLevel || donor[2][i] >= clipLevel)) continue
    let isLight = true
    for (let c = 0; c < 3; c++) {
      shown[c] = Math.log2(donor[c][i] / base[c][i])
      if (!(Math.abs(shown[c]) <= DEEPER * depthStops)) isLight = false
    }
    if (!isLight) continue
    for (let c = 0; c < 3; c++)
      stops[c][i] = donor[c][i] >= clipLevel ? Math.max(stops[c][i], shown[c]) : shown[c]
  }
}

export interface Multiplied {
  /** Linear RGB factors, 1 where alpha is 0. */
  readonly ratio: Frame
  /** The target in full strength, and as alpha lets it through. */
  readonly patch: Frame
  readonly repaired: Frame
}

/**
 * @param stops    per channel, as `stopsOf` has it
 * @param strength scales them
 */
export function multiplied(
  workspace: Workspace,
  target: Frame,
  stops: readonly Readonly<Float32Array>[],
  alpha: Readonly<Float32Array>,
  strength: number,
): Multiplied {
  const [height, width] = target.shape
  const ratio = frame(height, width, 3)
  const patch = frame(height, width, 3)
  for (let i = 0, j = 0; i < alpha.length; i++) {
    for (let c = 0; c < 3; c++, j++) {
      patch.data[j] = strength * stops[c][i]
      ratio.data[j] = alpha[i] * patch.data[j]
    }
  }
  powers(workspace, ratio.data)
  powers(workspace, patch.data)
  const repaired = frame(height, width, 3, target.data.slice())
  for (let j = 0; j < patch.data.length; j++) {
    patch.data[j] *= target.data[j]
    repaired.data[j] *= ratio.data[j]
  }
  return { ratio, patch, repaired }
}
