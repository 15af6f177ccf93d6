// Where the camera looks on every frame, from small pictures of whole frames: each against the reference frame as long as
// it sees enough of it, else against the last frame that did (a key frame), whose own place is known. A frame that comes
// back to where the camera has been is laid on the reference again, so errors do not add up.
import type { Workspace } from '../../kernels/workspace.js'
import { AnywhereFinder, bestOfTries } from '../../match/find-anywhere.js'
import { agreementAt, type Laid, layPlanar } from '../../match/planar.js'
import {
  type PlanarDonor,
  type PlanarReference,
  planarDonor,
  preparePlanar,
} from '../../match/planar-picture.js'
import { apply, compose, IDENTITY, invert, scaledToOne, type Transform } from '../../raster/transform.js'
import type { SmallFrame } from './small-frame.js'

/** Two pictures of one place correlate better than this where one was led to the other: see pose.ts. */
export const MIN_SAME = 0.3
/** The same where many places were tried. */
const MIN_SAME_OF_MANY = 0.4
/** A frame that sees less of its key frame than this becomes the next one. */
const KEY_OVERLAP = 0.6
/** A reference that is seen this little is not laid on any more. */
const MIN_OVERLAP = 0.35
/** A pose earns its keep when it leaves less than this share of what does not correlate: see pose.ts. */
const EARNS = 0.85
/** A frame that should show so much of the reference frame can be laid on it; it may agree with it by so much less. */
const CLOSE_OVERLAP = 0.5
const CLOSE_NCC = 0.15
/** Every so many frames it is looked whether another place on the reference frame agrees by so much more. */
const CHECK_EVERY = 12
const CHECKED_NCC = 0.03
const MAX_CHECKS = 60
/** Of frames in a row that are lost every so many is looked for everywhere, and so many of a plate at most. */
const SEARCH_EVERY = 5
const MAX_SEARCHES = 24

/** Where a frame lies on the reference frame, plate pixels to plate pixels. */
export interface Followed {
  readonly pose: Transform
  /** Its light against the reference frame's, stops. */
  readonly stops: number
}

/** What of a camera's doing explains a frame. */
export interface Simplest {
  readonly model: 'none' | 'shift' | 'more'
  readonly pose: Transform
  /** The best shift, whether or not it explains more than none, and its RMS error to be expected, plate pixels. */
  readonly shift: { readonly pose: Transform; readonly sigma: number } | null
}

interface Key {
  readonly small: SmallFrame
  readonly pose: Transform
  readonly stops: number
  readonly reference: PlanarReference
  finder?: AnywhereFinder
}

/** What a frame was laid on. */
interface On {
  readonly key: Key
  readonly found: Laid
}

/** Follows a camera from frame to frame. Poses take a plate's pixels to the reference frame's. */
export class CameraFollower {
  readonly #first: Key
  #searches = 0
  #checks = 0

  private constructor(
    readonly workspace: Workspace,
    first: Key,
  ) {
    this.#first = first
  }

  /**
   * @param reference the frame that all are laid on
   * @param counts    1 on what of it may be followed; over the small picture
   * @returns null where it can't be made a reference at all: it is all mask, or too small
   */
  static on(
    workspace: Workspace,
    reference: SmallFrame,
    counts: Readonly<Uint8Array>,
  ): CameraFollower | null {
    const key = keyOf(workspace, reference, IDENTITY, 0, counts)
    return key && new CameraFollower(workspace, key)
  }

  /** Follows frames that are neighbours in time, one after the other. @param start about where the first of them lies */
  sweep(start: Transform): (small: SmallFrame) => Followed | null {
    let key = this.#first
    let led = start
    let before: Transform | null = null
    let lost = 0
    let since = 0
    return (small) => {
      const donors = new Map<number, PlanarDonor>()
      const donorFor = ({ reference: { knee } }: Key) => {
        const made = donors.get(knee) ?? planarDonor(this.workspace, small.picture, small.known, knee)
        donors.set(knee, made)
        return made
      }
      /** On the reference as long as enough of it is seen, else on the last key frame. */
      const from = (at: Transform): On | null => {
        if (overlapOf(this.#first, small, at) >= MIN_OVERLAP) {
          const found = this.#laid(this.#first, small, donorFor(this.#first), at)
          if (found !== null) return { key: this.#first, found }
        }
        if (key === this.#first) return null
        const found = this.#laid(key, small, donorFor(key), at)
        return found && { key, found }
      }
      let on = from(led)
      // A camera that pans goes on panning.
      if (on === null && before !== null && lost === 0) on = from(compose(led, compose(invert(before), led)))
      if (on === null && lost % SEARCH_EVERY === 0 && this.#searches < MAX_SEARCHES) {
        this.#searches++
        for (const k of key === this.#first ? [key] : [key, this.#first]) {
          const found = this.#lookedFor(k, small, donorFor(k), true)
          if (found === null) continue
          on = { key: k, found }
          break
        }
      }
      if (on === null) {
        lost++
        before = null
        return null
      }
      if (on.key !== this.#first || ++since % CHECK_EVERY === 0) on = this.#closed(small, on, donorFor)
      const { found } = on
      before = lost === 0 ? led : null
      lost = 0
      led = poseOn(on.key, small, found.transform)
      const stops = on.key.stops + found.stops
      const enough = on.key === this.#first ? MIN_OVERLAP + 0.15 : KEY_OVERLAP
      if (found.overlap < enough) key = keyOf(this.workspace, small, led, stops, small.known) ?? key
      return { pose: led, stops }
    }
  }

  /**
   * A frame that should show enough of the reference frame, found on it from nothing: a lorry that fills the frame draws poses
   * along with it, and what is laid on a key frame lies as wrong as that does.
   */
  #closed(small: SmallFrame, on: On, donorFor: (key: Key) => PlanarDonor): On {
    const at = poseOn(on.key, small, on.found.transform)
    if (overlapOf(this.#first, small, at) < CLOSE_OVERLAP || this.#checks >= MAX_CHECKS) return on
    this.#checks++
    const found = this.#lookedFor(this.#first, small, donorFor(this.#first), true)
    const least = on.key === this.#first ? on.found.ncc + CHECKED_NCC : on.found.ncc - CLOSE_NCC
    return found !== null && found.ncc >= least ? { key: this.#first, found } : on
  }

  /**
   * What the simplest motion is that explains a frame near to where it would lie if nothing moved: standing still, a shift,
   * or more. Each has to explain it clearly better than the simpler one. Null where the frame is not recognised.
   */
  simplest(small: SmallFrame): Simplest | null {
    const { reference, small: first } = this.#first
    const donor = planarDonor(this.workspace, small.picture, small.known, reference.knee)
    const still = compose(invert(first.toPlate), small.toPlate)
    const shifted = layPlanar(reference, donor, still, 'shift')
    const any = layPlanar(reference, donor, shifted?.transform ?? still, 'homography')
    const left = [agreementAt(reference, donor, still).ncc, shifted?.ncc ?? -1, any?.ncc ?? -1].map(
      (ncc) => 1 - ncc,
    )
    if (Math.min(...left) > 1 - MIN_SAME) return null
    const shift = shifted && {
      pose: poseOn(this.#first, small, shifted.transform),
      sigma: shifted.sigmaOver(reference.rect) * first.toPlate[0],
    }
    if (any !== null && left[2] < EARNS * Math.min(left[0], left[1]))
      return { model: 'more', pose: poseOn(this.#first, small, any.transform), shift }
    if (shift !== null && left[1] < EARNS * left[0]) return { model: 'shift', pose: shift.pose, shift }
    return { model: 'none', pose: IDENTITY, shift }
  }

  /**
   * Where a frame of a plate that nothing is known of lies; null where it shows another place.
   *
   * @param size the plate's pixels in the reference's, about
   */
  find(small: SmallFrame, size: number): Transform | null {
    const key = this.#first
    const donor = planarDonor(this.workspace, small.picture, small.known, key.reference.knee)
    const smallSize = (size * small.toPlate[0]) / key.small.toPlate[0]
    const found = this.#lookedFor(key, small, donor, false, smallSize)
    return found === null ? null : poseOn(key, small, found.transform)
  }

  #laid(key: Key, small: SmallFrame, donor: PlanarDonor, led: Transform): Laid | null {
    const start = compose(invert(compose(key.pose, key.small.toPlate)), compose(led, small.toPlate))
    const laid = layPlanar(key.reference, donor, start, 'homography')
    return laid !== null && laid.ncc >= MIN_SAME && laid.overlap >= 0.2 && isSane(laid.transform, small)
      ? laid
      : null
  }

  #lookedFor(key: Key, small: SmallFrame, donor: PlanarDonor, onlyShift: boolean, size = 1): Laid | null {
    key.finder ??= new AnywhereFinder(this.workspace, key.small)
    const tries = key.finder.tries(small, { size, onlyShift })
    const found = bestOfTries(key.reference, donor, tries, MIN_SAME_OF_MANY)
    return found !== null && isSane(found.transform, small) ? found : null
  }
}

function keyOf(
  workspace: Workspace,
  small: SmallFrame,
  pose: Transform,
  stops: number,
  counts: Readonly<Uint8Array>,
): Key | null {
  const reference = preparePlanar(workspace, small.picture, Float32Array.from(counts))
  return reference && { small, pose, stops, reference }
}

function poseOn(key: Key, small: SmallFrame, laid: Transform): Transform {
  return scaledToOne(compose(compose(key.pose, key.small.toPlate), compose(laid, invert(small.toPlate))))
}

/** Share of a key frame that a frame would show, by its corners' grid. */
function overlapOf(key: Key, small: SmallFrame, led: Transform): number {
  const back = invert(compose(invert(compose(key.pose, key.small.toPlate)), compose(led, small.toPlate)))
  const { width, height } = key.small.picture
  let seen = 0
  const steps = 8
  for (let v = 0; v < steps; v++)
    for (let u = 0; u < steps; u++) {
      const p = apply(back, ((u + 0.5) / steps) * width, ((v + 0.5) / steps) * height)
      if (p.x >= 0 && p.y >= 0 && p.x < small.picture.width && p.y < small.picture.height) seen++
    }
  return seen / (steps * steps)
}

/** What no camera does from one frame to another: mirror, fold, or change the size by more than three. */
function isSane(t: Transform, { picture: { width, height } }: SmallFrame): boolean {
  const corners = [
    [0, 0],
    [width, 0],
    [width, height],
    [0, height],
  ].map(([x, y]) => ({ ...apply(t, x, y), w: t[6] * x + t[7] * y + t[8] }))
  if (!corners.every(({ w }) => w > 0)) return false
  let area = 0
  for (let i = 0; i < 4; i++) {
    const [a, b] = [corners[i], corners[(i + 1) % 4]]
    area += (a.x * b.y - b.x * a.y) / 2
  }
  const size = Math.sqrt(Math.max(0, area) / (width * height))
  return size > 1 / 3 && size < 3
}
