// The lighting pass of a borrow: a donor over its own reference state, per channel, in linear light: the shadow or the
// reflection alone.
import { FEATHER_PX, type FeatherSide, MAX_STRENGTH, STRENGTH } from '../../defaults.js'
import { misuse, option } from '../../errors.js'
import { readRect } from '../../footage/plate.js'
import { type Frame, frame } from '../../raster/frame.js'
import type { Rect } from '../../raster/rect.js'
import { apply, invert, type Placement, transformOf } from '../../raster/transform.js'
import { everyInside, featheredAlpha } from '../../region/region.js'
import { type Fade, fadesOf } from '../../search/borrow/fade.js'
import type { Candidate, FrameMatch } from '../../search/result.js'
import { placeOf } from '../footage.js'
import type { RepairedFrame, RepairJob } from '../repair.js'
import type { BandGrain } from './bands.js'
import { multiplied, stopsOf, type Unlit } from './factors.js'
import { LentFrames } from './lent-frames.js'
import { Occluders } from './occluders.js'
import {
  NOISE_RADIUS_PX,
  type ReferenceState,
  referenceState,
  type UnlitFrame,
  unlitGrain,
} from './reference-state.js'

export interface LightingOptions {
  /** Scales the change in stops, 0 to MAX_STRENGTH; 0 leaves the target as it is. */
  readonly strength?: number
  readonly featherPx?: number
  readonly featherSide?: FeatherSide
  /** Frames over which the lift comes in and goes out; default: as `fadesOf` has it. */
  readonly fade?: Fade
}

export interface LiftedFrame extends RepairedFrame {
  /** Linear RGB factors over `rect`: what the target is multiplied by; 1 beyond the feathered mask and the moment. */
  readonly ratio: Frame
}

/** The frames of a moment's reference state. @throws MISUSE of a candidate that has none */
export function referenceShares({ id, moment }: Pick<Candidate, 'id' | 'moment'>) {
  const shares = moment?.quietState ?? []
  if (shares.length === 0)
    throw misuse(
      option('ratio'),
      `a candidate found with ${option('aim')} borrow, which has a reference state`,
      id,
    )
  return shares
}

/** @throws MISUSE where a strength is none: below 0 a shadow would turn into light */
export function checkStrength(strength: number): void {
  if (!(strength >= 0 && strength <= MAX_STRENGTH))
    throw misuse(
      '`strength`',
      `0 (no change) to ${MAX_STRENGTH}, where 1 is the change as it was shot`,
      strength,
    )
}

/** Lifts the frames of one candidate; what the unlit frames tell is worked out once for each place it is needed at. */
export class LightingPass {
  readonly #frames: LentFrames
  readonly #inside: Float32Array
  #unlit: Found<Unlit> | undefined
  #grain: Found<BandGrain> | undefined

  /** @throws MISUSE where the candidate holds no moment of light to lift */
  constructor(
    readonly job: RepairJob,
    readonly candidate: Candidate,
  ) {
    const shares = referenceShares(candidate)
    this.#frames = new LentFrames(job, shares)
    this.#inside = everyInside(job.region)
  }

  /** @throws MISUSE where strength or fade are none; FRAME_UNREADABLE, FRAME_MISSING from the footage */
  async lift(
    match: FrameMatch,
    { strength = STRENGTH, featherPx = FEATHER_PX, featherSide, fade }: LightingOptions = {},
  ): Promise<LiftedFrame> {
    checkStrength(strength)
    const share = fadesOf(this.candidate, fade).get(match.target)!
    if (share === 0) return this.#untouched(match)
    const { region, target, workspace } = this.job
    const { window } = region
    const { inside } = region.frames.get(match.target)!
    const [seen, lent, unlit] = await Promise.all([
      readRect(target, match.target, window),
      this.#frames.donor(match),
      this.#unlitFor(match),
    ])
    const gain = match.quiet?.gain ?? [1, 1, 1]
    const stops = stopsOf(workspace, lent, unlit, match.donor, gain, window.w)
    const alpha = featheredAlpha(inside, window.w, featherPx, featherSide).slice()
    for (let i = 0; i < alpha.length; i++)
      if (lent.validity[i] === 0 && unlit.reference.validity[i] === 0) alpha[i] = 0
    const made = multiplied(workspace, seen, stops, alpha, strength * share)
    return { rect: window, target: seen, donor: lent.picture, alpha, mask: inside, ...made }
  }

  /** A frame beyond the moment: nothing of it is multiplied, by 1 neither. */
  async #untouched(match: FrameMatch): Promise<LiftedFrame> {
    const { region, target } = this.job
    const { window } = region
    const [seen, lent] = await Promise.all([
      readRect(target, match.target, window),
      this.#frames.donor(match),
    ])
    return {
      rect: window,
      target: seen,
      donor: lent.picture,
      ratio: frame(window.h, window.w, 3, new Float32Array(seen.data.length).fill(1)),
      patch: seen,
      repaired: seen,
      alpha: new Float32Array(window.w * window.h),
      mask: region.frames.get(match.target)!.inside,
    }
  }

  /** A frame's donor on the target, without a lift. @throws as lift */
  async donor(match: FrameMatch): Promise<{ rect: Rect; donor: Frame }> {
    const { picture } = await this.#frames.donor(match)
    return { rect: this.job.region.window, donor: picture }
  }

  #unlitFor(match: FrameMatch): Promise<Unlit> {
    const place = placeOf(match)
    if (!this.#unlit || this.#apart(this.#unlit.place, place) > 0)
      this.#unlit = { place, value: this.#unlitAt(place) }
    return this.#unlit.value
  }

  async #unlitAt(place: Placement): Promise<Unlit> {
    const here = await this.#referenceAt(place)
    const { frames, reference } = here
    const { workspace, region } = this.job
    const moment = this.candidate.moment!
    const occluders =
      moment.what === 'light'
        ? new Occluders(workspace, frames, reference, moment, this.#inside, region.window.w)
        : undefined
    return { reference, occluders, moment, grain: await this.#grainNear(place, here) }
  }

  /** Grain is alike a few pixels on: it is measured where the first of the frames near by is, not for every sway. */
  #grainNear(place: Placement, here: ReferenceHere): Promise<BandGrain> {
    const near =
      this.candidate.frames.map(placeOf).find((p) => this.#apart(p, place) <= NOISE_RADIUS_PX) ?? place
    if (!this.#grain || this.#apart(this.#grain.place, near) > 0) {
      const found = this.#apart(near, place) > 0 ? this.#referenceAt(near) : Promise.resolve(here)
      const { w } = this.job.region.window
      this.#grain = {
        place: near,
        value: found.then(({ frames, reference }) => unlitGrain(this.job.workspace, frames, reference, w)),
      }
    }
    return this.#grain.value
  }

  /** How far two places differ within the window, at most, pixels. */
  #apart(a: Placement, b: Placement): number {
    if (a.transform === undefined && b.transform === undefined) return Math.hypot(a.dx - b.dx, a.dy - b.dy)
    const { x, y, w, h } = this.job.region.window
    const [toA, toB] = [invert(transformOf(a)), invert(transformOf(b))]
    const distances = [x, x + w - 1].flatMap((px) =>
      [y, y + h - 1].map((py) => {
        const [p, q] = [apply(toA, px, py), apply(toB, px, py)]
        return Math.hypot(p.x - q.x, p.y - q.y)
      }),
    )
    return Math.max(...distances)
  }

  async #referenceAt(place: Placement): Promise<ReferenceHere> {
    const frames = await this.#frames.unlitAt(place)
    const { workspace, region } = this.job
    const { peak } = this.candidate.moment!
    return { frames, reference: referenceState(workspace, frames, peak, region.window.w) }
  }
}

interface ReferenceHere {
  readonly frames: readonly UnlitFrame[]
  readonly reference: ReferenceState
}

/** What was found for a place, which moves the peak's frame onto a target frame. */
interface Found<T> {
  readonly place: Placement
  readonly value: Promise<T>
}
