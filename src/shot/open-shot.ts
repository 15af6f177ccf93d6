// A request made into an open shot: plates and masks are opened once, here, and everything asked is checked against them.
// Search, sheet and patch all work on it.
import type { MaskFit } from '../defaults.js'
import { openFootage } from '../footage/active.js'
import type { Plate } from '../footage/plate.js'
import type { Rect } from '../raster/rect.js'
import { grownMasks } from '../region/grow.js'
import { loadAvoided, type Mask } from '../region/mask.js'
import { makeRegion, type Region } from '../region/region.js'
import type { FrameKey } from './frame-key.js'
import { checkLayer, donorFrames, masksOf, numbersOf, targetFrames } from './validate.js'

export interface ShotRequest {
  /** The target's plate: a folder, one of its frames, a pattern, a movie. */
  readonly target: string
  /** Target frames, as numbers or as `1001-1024`. */
  readonly frames: string | readonly number[]
  /** A mask (still, SVG or sequence) or a box; one of the two. */
  readonly mask?: string
  readonly box?: Rect
  readonly maskFit?: MaskFit
  /** Frame of the target's plate on which the mask or box was drawn: it rides along with the scenery. */
  readonly maskAt?: number
  /** What of the target plate's frames is not to be seen, such as actors: a mask sequence, or a still for all of them. */
  readonly avoid?: string
  /** Whole pixels by which the mask or box is grown, at most half the plate's shorter side; below 0 it shrinks. */
  readonly grow?: number
  /** Donor plates beside the target's own. */
  readonly donors?: readonly string[]
  /** Frames of every plate that may lend; absent: all. What is known of the footage comes from all its frames anyhow. */
  readonly donorFrames?: string | readonly number[]
  /** Frames of every plate that may not lend; absent: none. */
  readonly notFrames?: string | readonly number[]
  /**
   * Largest 2D offset, whole pixels, 0 to half the plate's shorter side; absent: 16, or what the plate allows. `anywhere`:
   * other places of the target's own frames that look alike lend as well.
   */
  readonly reach?: number | 'anywhere'
  /** Width of the ring, whole pixels, 2 to the same; absent: 24, or what the plate allows. */
  readonly surround?: number
  /** An encoding's name or `auto`. */
  readonly encoding?: string
  readonly layer?: string
}

/** What is open while one request is worked on. */
export interface Shot {
  /** As it was asked. */
  readonly request: ShotRequest
  /** The target's first, then the donors'. */
  readonly plates: readonly [Plate, ...Plate[]]
  /** Target frames on which something is to be replaced, in order. */
  readonly frames: readonly number[]
  /** Frames that may lend, in order of plate and frame. */
  readonly donors: readonly FrameKey[]
  /** As they were read, of all target frames that were asked for. */
  readonly masks: ReadonlyMap<number, Mask>
  readonly maskFit: MaskFit
  readonly region: Region
  /** Largest 2D offset, pixels. */
  readonly reach: number
  /** Width of the surround, pixels. */
  readonly surround: number
}

/**
 * Opens the plates and masks that a request names. Reads names, a few headers and the masks.
 *
 * @throws OffcutError with the codes of openPlate, loadMasks, grownMasks and makeRegion; MISUSE; FRAMES_OUTSIDE; PLATE_SIZE
 */
export async function openShot(request: ShotRequest): Promise<Shot> {
  const { encoding = 'auto', maskFit = 'same', layer } = request
  const opened = await openFootage(request.target, { encoding, layer })
  const target =
    request.avoid === undefined
      ? opened
      : { ...opened, avoided: await loadAvoided(request.avoid, opened, maskFit) }
  const others = await Promise.all((request.donors ?? []).map((d) => openFootage(d, { encoding, layer })))
  const plates: Shot['plates'] = [target, ...others]
  checkLayer(plates, layer)
  const { reach, surround } = numbersOf(target, {
    surround: request.surround,
    reach: request.reach === 'anywhere' ? undefined : request.reach,
  })
  const asked = targetFrames(target, request.frames)
  const said: string[] = []
  const masks = await masksOf(request, target, asked, maskFit, (sentence) => said.push(sentence))
  const made = makeRegion(grownMasks(masks, request.grow, target), target, surround)
  const region = { ...made, notes: [...made.notes, ...said] }
  const donors = donorFrames(plates, request)
  return {
    request,
    plates,
    frames: [...region.frames.keys()],
    donors,
    masks,
    maskFit,
    region,
    reach,
    surround,
  }
}
