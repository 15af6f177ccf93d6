// The whole picture's light while a surface's light changes. What goes on all over is divided out, since a camera's exposure does; so of
// a cloud's shadow, or of a lamp whose light falls beside the surface as well, only what the surface does beyond that is left.
import { MAD_TO_SIGMA, middleValue } from '../../match/selection.js'
import { keyOf } from '../../shot/frame-key.js'
import type { GlobalExposure } from '../../track/global-exposure.js'
import type { Measured } from './changes.js'
import type { FoundMoment } from './moments.js'

/** Frames on either side of a moment that tell how the light flickers by itself. */
const BESIDE_FRAMES = 24
/** A change that begins or ends all at once, as the rest of the picture follows, does so within so many frames of a moment's ends. */
const AT_ENDS = 3

export interface AllRound {
  /**
   * By how much the picture gets brighter on the frame, and in the channel, in which it differs most from what it is without the moment;
   * below 0 darker. From one frame to the next alone it is no more than flicker: the middle one of three neighbours tells.
   */
  readonly stops: number
  /** How far the picture's light strays from frame to frame by itself, a standard deviation, stops. */
  readonly flicker: number
}

/** @param unlit frames of the plate that show the surface without the moment */
export function allRound(
  { exposures }: Pick<Measured, 'exposures'>,
  plate: number,
  { start, end }: Pick<FoundMoment, 'start' | 'end'>,
  unlit: readonly number[],
): AllRound {
  const at = (frame: number): GlobalExposure[] => {
    const found = exposures.get(keyOf({ plate, frame }))
    return found === undefined ? [] : [found]
  }
  const without = ([0, 1, 2] as const).map((c) => middleOf(unlit.flatMap(at), c))
  let most = 0
  for (let frame = start - AT_ENDS; frame <= end + AT_ENDS; frame++) {
    const three = [frame - 1, frame, frame + 1].flatMap(at)
    if (three.length < 3) continue
    for (const c of [0, 1, 2] as const) {
      const stops = middleOf(three, c) - without[c]!
      if (Math.abs(stops) > Math.abs(most)) most = stops
    }
  }
  const steps: number[] = []
  for (let frame = start - BESIDE_FRAMES; frame < end + BESIDE_FRAMES; frame++) {
    const [one, two] = [at(frame)[0], at(frame + 1)[0]]
    if (one && two) steps.push(Math.abs(one.stops - two.stops))
  }
  return { stops: most, flicker: (MAD_TO_SIGMA * middleValue(steps)) / Math.SQRT2 }
}

/** How bright the usual one of some frames is to the common light, stops. */
function middleOf(lights: readonly GlobalExposure[], c: 0 | 1 | 2): number {
  return middleValue(lights.map(({ gain }) => -Math.log2(gain[c])))
}
