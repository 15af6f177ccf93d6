// All that is known of a planted plate: a line of the table, and what is judged by.
import type { Rect } from '../../src/raster/rect.js'
import type { Motion, Variant } from './motion.js'
import type { Layers } from './moving.js'
import type { Label, Window } from './pick-windows.js'
import type { Standing } from './standing.js'
import type { Thirds } from './thirds.js'
import type { Take } from './views.js'

/** All that is known of a planted plate. Frame numbers are the footage's. */
export interface Case {
  /** `sway-3` */
  readonly id: string
  readonly variant: Variant
  readonly window: Window
  /** The part of the footage that the plate shows; of a camera that moves, its frame. */
  readonly crop: Rect
  /** The region's box in the plate; where it sticks to the scenery, on the middle target frame. */
  readonly box: Rect
  readonly frames: readonly number[]
  readonly motion: readonly Motion[]
  /** Frames of the footage that show nobody in the region, whatever is painted over them; of a camera that stands. */
  readonly empty?: readonly number[]
  /** What really stands in the region, frame by frame, where the middle target frame sees it. */
  readonly labels: readonly Label[]
  /** What stands in the region for a while, of the variant `state`. */
  readonly standing?: Standing
  /** Which part of the region is covered when, of the variant `never`. */
  readonly thirds?: Thirds
  /** What is far and what is near, of the variant `handheld`. */
  readonly layers?: Layers
  /** The other take, of the variant `reframe`. */
  readonly take?: Take
}

export function middleOf(window: Window): number {
  return window.frames[window.frames.length >> 1]
}
