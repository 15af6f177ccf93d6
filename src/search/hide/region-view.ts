// All frames of a search as seen through one mask: their samples in the region and round it lie in the workspace, and
// pairs of them are compared there. What the region of a target shows is asked of pretended targets alone.

import type { Held, Workspace } from '../../kernels/workspace.js'
import { INVALID } from '../../match/log-luminance.js'
import { type Centred, type PairSums, sumCentred } from '../../match/ncc.js'
import { select } from '../../match/selection.js'
import { displaySlope } from '../../match/visible-error.js'
import { dilate, GUARD_PX, type RegionFrame, support } from '../../region/region.js'
import type { Steps } from '../../turns.js'
import { matchOf, type RingMatch, ringOf } from '../pairs.js'
import { gather, type PixelLists, pixelLists } from '../pixel-lists.js'
import type { Registered, Registration } from '../register.js'

/** Surround pixels as near to the mask as this, pixels, share most of what the region goes through. */
const NEAR_PX = 8
/** What a hole counts as, stops: as bad as black beside white. */
const HOLE_STOPS = 1

/** A pair on the surround. */
export interface RingPair extends RingMatch {
  /** As `residual`, of the surround next to the mask; of all of it where too little of that is seen. */
  readonly near: number
}

/** A picture of the region: samples on the pixels that are compared, and a weight for each, 0 where it shows nothing. */
export interface RegionPicture {
  readonly samples: Float32Array
  readonly weight: Readonly<Float32Array>
}

export class RegionView {
  readonly list: PixelLists
  /** The clean plate over the whole plate, log2 luminance, and what grain explains of it, on the pixels that are compared. */
  readonly usual: Float32Array
  readonly grain: Float32Array
  readonly #held: Held
  readonly #compared: Int32Array
  readonly #near: number
  /** Per pixel of the region that is compared: its weight, and what a stop there is worth on a display, squared. */
  readonly #visible: Float32Array
  readonly #sumVisible: number
  readonly #sumInside: number
  readonly #rings: { near: Centred; far: Centred; nearValid: Uint8Array; farValid: Uint8Array }[] = []
  readonly #own: Centred[] = []
  readonly #ownValid: Uint8Array[] = []
  readonly #painted: readonly [Float32Array, Float32Array]

  constructor(
    readonly workspace: Workspace,
    readonly mask: RegionFrame,
    readonly frames: readonly Registered[],
    { cleanPlate, window, minSpread }: Pick<Registration, 'cleanPlate' | 'window' | 'minSpread'>,
    spread: Readonly<Float32Array>,
  ) {
    this.list = pixelLists(mask, spread, minSpread)
    this.#held = workspace.hold()
    const covered = support(mask.inside)
    const beside = dilate(covered, window.w, window.h, GUARD_PX + NEAR_PX)
    const { compared, own, ownWeight } = this.list
    this.usual = gather(cleanPlate.level, own)
    this.grain = gather(spread, own)
    const near = compared.filter((i) => beside[i] === 1)
    this.#near = near.length
    this.#compared = Int32Array.from([...near, ...compared.filter((i) => beside[i] === 0)])
    this.#painted = [this.#held.floats(own.length), this.#held.floats(own.length)]
    this.#visible = this.#held.floats(own.length)
    let sumVisible = 0
    let sumInside = 0
    for (let k = 0; k < own.length; k++) {
      this.#visible[k] = ownWeight[k] * displaySlope(this.usual[k]) ** 2
      sumVisible += this.#visible[k]
      sumInside += ownWeight[k]
    }
    this.#sumVisible = sumVisible
    this.#sumInside = sumInside
  }

  /** Nothing must be asked of it afterwards. */
  release(): void {
    this.#held.release()
  }

  /** @param steady per frame, 1 over the window where nobody passes */
  *prepare(steady: ReadonlyMap<Registered, Readonly<Uint8Array>>): Steps<void, never> {
    const { frames } = this
    const n = this.#compared.length
    const { own } = this.list
    const m = own.length
    const rings = this.#held.floats(n * frames.length)
    const validities = this.#held.bytes(n * frames.length)
    const owns = this.#held.floats(m * frames.length)
    const ownValidities = this.#held.bytes(m * frames.length)
    for (const [k, f] of frames.entries()) {
      yield
      const validity = validities.subarray(k * n, (k + 1) * n)
      const row = rings.subarray(k * n, (k + 1) * n)
      const { base, samples } = ringOf(f, steady.get(f)!, this.#compared, validity, row).samples
      this.#rings.push({
        near: { base, samples: samples.subarray(0, this.#near) },
        far: { base, samples: samples.subarray(this.#near) },
        nearValid: validity.subarray(0, this.#near),
        farValid: validity.subarray(this.#near),
      })
      const shown = ownValidities.subarray(k * m, (k + 1) * m)
      const values = owns.subarray(k * m, (k + 1) * m)
      for (let i = 0; i < m; i++) {
        shown[i] = f.validity[own[i]] === INVALID ? 0 : 1
        values[i] = shown[i] === 1 ? f.aligned[own[i]] + f.exposure : 0
      }
      this.#own.push({ base: 0, samples: values })
      this.#ownValid.push(shown)
    }
  }

  /** Is any of the region seen on the frame? */
  shows(frame: number): boolean {
    return this.#ownValid[frame].includes(1)
  }

  /** Compares frames with one of them on the surround. */
  ringsOf(
    target: number,
    donors: Readonly<Int32Array>,
    hear: (k: number, pair: RingPair | null) => void,
  ): void {
    const { near, far, nearValid, farValid } = this.#rings[target]
    this.workspace.within((scratch) => {
      const nearWeight = scratch.floats(nearValid.length)
      const farWeight = scratch.floats(farValid.length)
      nearWeight.set(nearValid)
      farWeight.set(farValid)
      const sum = (of: Centred, donor: Centred, weight: Float32Array, valid: Uint8Array) =>
        sumCentred(this.workspace, of, donor, weight, valid)
      for (let k = 0; k < donors.length; k++) {
        const donor = this.#rings[donors[k]]
        const beside = sum(near, donor.near, nearWeight, donor.nearValid)
        const all = added(beside, sum(far, donor.far, farWeight, donor.farValid))
        hear(k, this.#pair(beside, all))
      }
    })
  }

  #pair(beside: PairSums, all: PairSums): RingPair | null {
    const { surroundSpread } = this.list
    const match = matchOf(all, this.#compared.length, surroundSpread)
    if (match === null) return null
    const near = this.#near > 0 ? matchOf(beside, this.#near, surroundSpread) : null
    return { ...match, near: near?.residual ?? match.residual }
  }

  /** What a frame shows in the region, in the light of the clean plate. */
  pictureOf(frame: number): RegionPicture {
    const valid = this.#ownValid[frame]
    const weight = valid.includes(0) ? this.#visible.map((w, i) => w * valid[i]) : this.#visible
    return { samples: this.#own[frame].samples, weight }
  }

  /** A picture that is painted with samples, one for each pixel that is compared; until the next is painted with the brush. */
  paint(brush: 0 | 1, samples: Readonly<Float32Array>): RegionPicture {
    this.#painted[brush].set(samples)
    return { samples: this.#painted[brush], weight: this.#visible }
  }

  /** What a squared difference of a stop comes to on average, display code values squared. */
  get stopWorth(): number {
    return this.#sumInside > 0 ? this.#sumVisible / this.#sumInside : 0
  }

  /** Samples and validity of a frame, over the pixels that are compared. */
  samplesOf(frame: number): { aligned: Float32Array; validity: Uint8Array; exposure: number } {
    return { aligned: this.#own[frame].samples, validity: this.#ownValid[frame], exposure: 0 }
  }

  /** The middle value of a few frames' regions, pixel by pixel; null where there is none. */
  middleOf(frames: readonly number[]): Float32Array | null {
    if (frames.length === 0) return null
    const samples = frames.map((i) => this.#own[i].samples)
    const values = new Float32Array(frames.length)
    return samples[0].map((_, k) => {
      for (let i = 0; i < values.length; i++) values[i] = samples[i][k]
      return select(values, values.length >> 1)
    })
  }

  /** Mean square difference of two pictures that show all of the region, as `difference` has it. */
  between(one: Readonly<Float32Array>, two: Readonly<Float32Array>): number {
    let sum = 0
    for (let k = 0; k < one.length; k++) sum += this.#visible[k] * (one[k] - two[k]) ** 2
    return this.#sumInside > 0 ? sum / this.#sumInside : 0
  }

  /**
   * Mean square difference of a frame's region from a picture, in display code values squared (1: from black to white);
   * where either shows nothing it counts as a stop.
   *
   * @param stops added to the frame's light
   */
  difference({ samples, weight }: RegionPicture, frame: number, stops = 0): number {
    const sums = sumCentred(
      this.workspace,
      { base: 0, samples },
      this.#own[frame],
      weight,
      this.#ownValid[frame],
    )
    const { squareDifference, target, donor, weight: seen } = sums
    const seenSquare = squareDifference - 2 * stops * (target - donor) + stops * stops * seen
    // Sums in float32 leave a little of nothing.
    const holes = Math.max(0, this.#sumVisible - seen)
    return (Math.max(0, seenSquare) + holes * HOLE_STOPS ** 2) / this.#sumInside
  }

  /** As `difference`, of a weighted mean of frames. @param parts their weights add up to 1 */
  differenceOfMean(
    { samples, weight }: RegionPicture,
    parts: readonly { readonly frame: number; readonly weight: number; readonly stops: number }[],
  ): number {
    const mean = new Float32Array(samples.length)
    const seen = new Float32Array(samples.length)
    for (const { frame, weight: share, stops } of parts)
      addPart(mean, seen, this.#own[frame].samples, this.#ownValid[frame], share, stops)
    let sum = 0
    let holes = this.#sumVisible
    for (let k = 0; k < mean.length; k++) {
      if (seen[k] === 0 || weight[k] === 0) continue
      sum += weight[k] * (samples[k] - mean[k] / seen[k]) ** 2
      holes -= weight[k]
    }
    return (sum + Math.max(0, holes) * HOLE_STOPS ** 2) / this.#sumInside
  }
}

function addPart(
  mean: Float32Array,
  seen: Float32Array,
  samples: Readonly<Float32Array>,
  valid: Readonly<Uint8Array>,
  share: number,
  stops: number,
): void {
  for (let k = 0; k < mean.length; k++) {
    if (valid[k] === 0) continue
    mean[k] += share * (samples[k] + stops)
    seen[k] += share
  }
}

function added(a: PairSums, b: PairSums): PairSums {
  return {
    weight: a.weight + b.weight,
    target: a.target + b.target,
    donor: a.donor + b.donor,
    targetSquared: a.targetSquared + b.targetSquared,
    donorSquared: a.donorSquared + b.donorSquared,
    product: a.product + b.product,
    squareDifference: a.squareDifference + b.squareDifference,
  }
}
