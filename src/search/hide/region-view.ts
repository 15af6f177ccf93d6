// All frames of a search as seen through one mask: their samples in the region and round it lie in the workspace, and
// pairs of them are compared there. What the region of a target shows is asked of pretended targets alone.

import { type KnownRows, knownRows, PAIR_SUMS, pairSumsOf, type Rows } from '../../kernels/pair-sums.js'
import type { Held, Workspace } from '../../kernels/workspace.js'
import { INVALID } from '../../match/log-luminance.js'
import { addSums, laySums, noSums } from '../../match/ncc.js'
import { select } from '../../match/selection.js'
import { displaySlope } from '../../match/visible-error.js'
import { hasByte } from '../../raster/has-byte.js'
import { dilate, GUARD_PX, type RegionFrame, support } from '../../region/region.js'
import type { Steps } from '../../turns.js'
import { matchOf, type RingMatch, residualOf, ringOf } from '../pairs.js'
import { gather, type PixelLists, pixelLists } from '../pixel-lists.js'
import type { Registered, Registration } from '../register.js'

/** Surround pixels as near to the mask as this, pixels, share most of what the region goes through. */
const NEAR_PX = 8
/** What a hole counts as, stops: as bad as black beside white. */
const HOLE_STOPS = 1

/** One frame and many donors on the surround, a number of each kind for each donor; NaN is absent, as null is in `RingMatch`. */
export type RingPairs = { readonly [K in keyof RingMatch | 'near']: Float64Array }

/** @param near as `residual`, of the surround next to the mask; of all of it where too little of that is seen */
function noRings(count: number): RingPairs {
  const none = () => new Float64Array(count).fill(Number.NaN)
  return { ncc: none(), stops: none(), seam: none(), residual: none(), near: none() }
}

/** A picture of the region: samples on the pixels that are compared, and a weight for each, 0 where it shows nothing. */
export interface RegionPicture {
  readonly samples: Float32Array
  readonly weight: Readonly<Float32Array>
}

/** The surround on all frames, and what it is taken about on each; the near pixels come first. */
interface Ring {
  readonly compared: Int32Array
  readonly near: number
  readonly bases: Float64Array
  readonly rows: Rows
  /** The near pixels and the others, with what is known of every frame there, once they are laid. */
  known?: { readonly near: KnownRows; readonly far: KnownRows }
}

export class RegionView {
  readonly list: PixelLists
  /** The clean plate over the whole plate, log2 luminance, and what grain explains of it, on the pixels that are compared. */
  readonly usual: Float32Array
  readonly grain: Float32Array
  readonly #held: Held
  /** Per pixel of the region that is compared: its weight, and what a stop there is worth on a display, squared. */
  readonly #visible: Float32Array
  readonly #sumVisible: number
  readonly #sumInside: number
  readonly #ring: Ring
  readonly #owns: Rows
  /** The region, with what is known of every frame there. */
  #known: KnownRows | undefined
  readonly #painted: readonly [Float32Array, Float32Array]

  constructor(
    readonly workspace: Workspace,
    readonly mask: RegionFrame,
    readonly frames: readonly Registered[],
    readonly registration: Pick<Registration, 'cleanPlate' | 'window' | 'minSpread'>,
    readonly spread: Readonly<Float32Array>,
    /** Of a part: the view of all of the region, and the places of the part's pixels among those that it compares. */
    readonly part: { readonly of: RegionView; readonly places: Readonly<Int32Array> } | null = null,
  ) {
    const { cleanPlate, minSpread } = registration
    this.list = part === null ? pixelLists(mask, spread, minSpread) : partOf(part.of.list, part.places)
    this.#held = workspace.hold()
    const { own, ownWeight } = this.list
    this.usual = gather(cleanPlate.level, own)
    this.grain = gather(spread, own)
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
    this.#ring = part === null ? this.#newRing() : part.of.#ring
    this.#owns = this.#rowsOf(own.length)
  }

  #newRing(): Ring {
    const { window } = this.registration
    const beside = dilate(support(this.mask.inside), window.w, window.h, GUARD_PX + NEAR_PX)
    const { compared } = this.list
    const near = compared.filter((i) => beside[i] === 1)
    return {
      compared: Int32Array.from([...near, ...compared.filter((i) => beside[i] === 0)]),
      near: near.length,
      bases: new Float64Array(this.frames.length),
      rows: this.#rowsOf(compared.length),
    }
  }

  #rowsOf(length: number): Rows {
    const all = length * this.frames.length
    return { samples: this.#held.floats(all), validity: this.#held.bytes(all), length }
  }

  /** Nothing must be asked of it afterwards. */
  release(): void {
    this.#held.release()
  }

  /** @param steady per frame, 1 over the window where nobody passes; a part has the surround of the whole region */
  *prepare(steady?: ReadonlyMap<Registered, Readonly<Uint8Array>>): Steps<void, never> {
    const { own } = this.list
    const { compared, near, bases, rows } = this.#ring
    for (const [k, f] of this.frames.entries()) {
      yield
      if (steady !== undefined) {
        const ring = rowOf(rows, k)
        bases[k] = ringOf(f, steady.get(f)!, compared, ring.validity, ring.samples).samples.base
      }
      layOwn(f, own, rowOf(this.#owns, k))
    }
    const known = (rows: Rows, from: number, usual: Float32Array) =>
      knownRows(this.workspace, this.#held, rows, from, usual)
    this.#known = known(this.#owns, 0, this.#visible)
    if (steady === undefined) return
    const ones = this.#held.floats(compared.length).fill(1)
    this.#ring.known = {
      near: known(rows, 0, ones.subarray(0, near)),
      far: known(rows, near, ones.subarray(near)),
    }
  }

  /** Is any of the region seen on the frame? */
  shows(frame: number): boolean {
    return hasByte(rowOf(this.#owns, frame).validity, 1)
  }

  /** Compares frames with one of them on the surround. */
  ringsOf(target: number, donors: Readonly<Int32Array>): RingPairs {
    const { rows, bases, known, compared, near: nearest } = this.#ring
    const { surroundSpread } = this.list
    const { samples, validity } = rowOf(rows, target)
    const rings = noRings(donors.length)
    this.workspace.within((scratch) => {
      const weight = scratch.floats(validity.length)
      weight.set(validity)
      const sumsOf = (rows: KnownRows) => {
        const to = rows.from + rows.usual.length
        const sums = scratch.doubles(PAIR_SUMS * donors.length)
        pairSumsOf(
          this.workspace,
          samples.subarray(rows.from, to),
          weight.subarray(rows.from, to),
          rows,
          donors,
          sums,
        )
        return sums
      }
      const near = sumsOf(known!.near)
      const far = sumsOf(known!.far)
      const all = noSums()
      const beside = noSums()
      for (let k = 0; k < donors.length; k++) {
        const base = bases[donors[k]] - bases[target]
        laySums(near, PAIR_SUMS * k, base, beside)
        laySums(far, PAIR_SUMS * k, base, all)
        addSums(all, beside)
        const match = matchOf(all, compared.length, surroundSpread)
        if (match === null) continue
        rings.ncc[k] = match.ncc ?? Number.NaN
        rings.stops[k] = match.stops ?? Number.NaN
        rings.seam[k] = match.seam ?? Number.NaN
        rings.residual[k] = match.residual
        rings.near[k] = (nearest > 0 ? residualOf(beside, nearest) : null) ?? match.residual
      }
    })
    return rings
  }

  /** What a frame shows in the region, in the light of the clean plate. */
  pictureOf(frame: number): RegionPicture {
    const { samples, validity } = rowOf(this.#owns, frame)
    const weight = hasByte(validity, 0) ? this.#visible.map((w, i) => w * validity[i]) : this.#visible
    return { samples, weight }
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
    const { samples, validity } = rowOf(this.#owns, frame)
    return { aligned: samples, validity, exposure: 0 }
  }

  /** The middle value of a few frames' regions, pixel by pixel; null where there is none. */
  middleOf(frames: readonly number[]): Float32Array | null {
    if (frames.length === 0) return null
    const samples = frames.map((i) => rowOf(this.#owns, i).samples)
    const values = new Float32Array(frames.length)
    return samples[0].map((_, k) => {
      for (let i = 0; i < values.length; i++) values[i] = samples[i][k]
      return select(values, values.length >> 1)
    })
  }

  /** Mean square difference of two pictures that show all of the region, as `differences` has it. */
  between(one: Readonly<Float32Array>, two: Readonly<Float32Array>): number {
    let sum = 0
    for (let k = 0; k < one.length; k++) sum += this.#visible[k] * (one[k] - two[k]) ** 2
    return this.#sumInside > 0 ? sum / this.#sumInside : 0
  }

  /**
   * Mean square difference of frames' regions from a picture, in display code values squared (1: from black to white);
   * where either shows nothing it counts as a stop.
   *
   * @param stops added to each frame's light; absent: none
   */
  differences(
    { samples, weight }: RegionPicture,
    frames: Readonly<Int32Array>,
    stops: Readonly<Float64Array> = new Float64Array(frames.length),
  ): Float64Array {
    const differences = new Float64Array(frames.length)
    const sums = noSums()
    this.workspace.within((scratch) => {
      const all = scratch.doubles(PAIR_SUMS * frames.length)
      pairSumsOf(this.workspace, samples, weight, this.#known!, frames, all)
      for (let k = 0; k < frames.length; k++) {
        laySums(all, PAIR_SUMS * k, 0, sums)
        const seen = sums.weight
        const lit = sums.squareDifference - 2 * stops[k] * (sums.target - sums.donor)
        // Sums in float32 leave a little of nothing.
        const square = Math.max(0, lit + stops[k] * stops[k] * seen)
        const holes = Math.max(0, this.#sumVisible - seen)
        differences[k] = (square + holes * HOLE_STOPS ** 2) / this.#sumInside
      }
    })
    return differences
  }

  /** As `differences`, of a weighted mean of frames. @param parts their weights add up to 1 */
  differenceOfMean(
    { samples, weight }: RegionPicture,
    parts: readonly { readonly frame: number; readonly weight: number; readonly stops: number }[],
  ): number {
    const mean = new Float32Array(samples.length)
    const seen = new Float32Array(samples.length)
    for (const { frame, weight: share, stops } of parts)
      addPart(mean, seen, rowOf(this.#owns, frame), share, stops)
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

/** The lists of a part: what surrounds it is what surrounds all of the region. */
function partOf(whole: PixelLists, places: Readonly<Int32Array>): PixelLists {
  const own = places.map((k) => whole.own[k])
  return { ...whole, own, ownWeight: gather(whole.ownWeight, places) }
}

function rowOf(
  { samples, validity, length }: Rows,
  row: number,
): { samples: Float32Array; validity: Uint8Array } {
  const [from, to] = [row * length, (row + 1) * length]
  return { samples: samples.subarray(from, to), validity: validity.subarray(from, to) }
}

/** What a frame shows at the region's pixels, in the light of the clean plate; 0 in holes. */
function layOwn(
  { aligned, validity, exposure }: Registered,
  own: Readonly<Int32Array>,
  into: { samples: Float32Array; validity: Uint8Array },
): void {
  const { samples, validity: shown } = into
  for (let k = 0; k < own.length; k++) {
    const i = own[k]
    const isHole = validity[i] === INVALID
    shown[k] = isHole ? 0 : 1
    samples[k] = isHole ? 0 : aligned[i] + exposure
  }
}

function addPart(
  mean: Float32Array,
  seen: Float32Array,
  { samples, validity }: Pick<Rows, 'samples' | 'validity'>,
  share: number,
  stops: number,
): void {
  for (let k = 0; k < mean.length; k++) {
    if (validity[k] === 0) continue
    mean[k] += share * (samples[k] + stops)
    seen[k] += share
  }
}
