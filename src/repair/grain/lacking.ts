// What of a plate's grain is lacking in the pixels that are lent: moving a picture by a part of a pixel blurs its grain, an
// average of frames has less of it, and a held frame's stands still.
import { LANCZOS3, taps } from '../../raster/filters.js'
import { stretchedTaps, stretchUnder } from '../../raster/footprint.js'
import type { Rect } from '../../raster/rect.js'
import { apply, invert, isShift, transformOf } from '../../raster/transform.js'
import type { StackShare } from '../../search/result.js'
import { type GrainModel, type Spectrum, TILE_PX, varianceOf } from './model.js'
import { responseOf } from './spectrum.js'

const FREQUENCIES = TILE_PX * TILE_PX
/** Places over the window at which taps are looked at, where they change from place to place. */
const PLACES = 4

/** What one frame's lent pixels have of the plate's grain, as shares of its power at each frequency. */
export interface Lent {
  readonly kept: Spectrum
  /** How much of what they have is another one than on the frame before, 0 (a held donor) to 1. */
  readonly renewed: number
}

/** What is lacking. */
export interface Lacking {
  /** Per component: what is to be another one on every frame, for the patch to change as the plate does. */
  readonly change: readonly Spectrum[]
  /** Per component: what the lent pixels have lost of all grain. */
  readonly absent: readonly Spectrum[]
  /** Share of lasting noise that is carried from one frame to the next, 0 to 1. */
  readonly carried: number
}

/**
 * @param shares who lends the frame's pixels
 * @param before who lent those of the frame before, or of the first the one after; absent where there is one frame only
 * @param window over which it is told
 * @param over   noise of lenders of another plate over the target's; null: unknown, taken for the same
 */
export function lentGrain(
  model: GrainModel,
  shares: readonly StackShare[],
  before: readonly StackShare[] | undefined,
  window: Rect,
  over: number | null,
): Lent {
  const kept = new Float64Array(FREQUENCIES)
  const lasts = lastingShare(model)
  /** What is the same so many frames apart: a power takes long, and a stack has few distances and many pairs. */
  const lasting = new Map<number, Float64Array>()
  const responses = shares.map((share) => responseUnder(share, window))
  const levels = shares.map(({ plate }, k) => {
    if (plate === 0 || over === null) return 1
    // What was measured is after the move.
    return over / Math.sqrt(Math.max(1e-6, varianceOf(responses[k]!)))
  })
  let [stays, all] = [0, 0]
  for (const [k, share] of shares.entries()) {
    for (const [j, other] of shares.entries()) {
      if (other.plate !== share.plate) continue
      const apart = Math.abs(other.frame - share.frame)
      const weight = share.weight * levels[k]! * other.weight * levels[j]!
      let still = lasting.get(apart)
      if (still === undefined) {
        still = lasts.map((share) => share ** apart)
        lasting.set(apart, still)
      }
      if (apart === 0) addWeighted(kept, weight, responses[k]!, still)
      else addShared(kept, weight, responses[k]!, responses[j]!, still)
    }
    all += share.weight * share.weight
    const same = before?.find((b) => b.plate === share.plate && b.frame === share.frame)
    if (same) stays += share.weight * Math.min(share.weight, same.weight)
  }
  return { kept, renewed: all > 0 ? 1 - stays / all : 1 }
}

/** The same for all that lentGrain, of one model, window and noise, tells the same of. */
export function lentAlike(shares: readonly StackShare[], before: readonly StackShare[] | undefined): string {
  const [first] = shares
  return shares
    .map((share) => {
      const { plate, frame, weight } = share
      const same = before?.find((b) => b.plate === plate && b.frame === frame)
      return [plate, frame - first!.frame, weight, same?.weight, ...transformOf(share)].join(' ')
    })
    .join()
}

function addWeighted(
  sum: Float64Array,
  weight: number,
  response: Readonly<Spectrum>,
  still: Readonly<Float64Array>,
): void {
  for (let i = 0; i < FREQUENCIES; i++) sum[i]! += weight * response[i]! * still[i]!
}

function addShared(
  sum: Float64Array,
  weight: number,
  one: Readonly<Spectrum>,
  other: Readonly<Spectrum>,
  still: Readonly<Float64Array>,
): void {
  for (let i = 0; i < FREQUENCIES; i++) sum[i]! += weight * Math.sqrt(one[i]! * other[i]!) * still[i]!
}

/** At each frequency, how much of grain is the same in the next frame: frames that are averaged share it. */
function lastingShare({ whole, fresh }: GrainModel): Float64Array {
  const out = new Float64Array(FREQUENCIES)
  for (let i = 0; i < FREQUENCIES; i++) {
    const all = whole[0]![i]! + whole[1]![i]! + whole[2]![i]!
    const changing = fresh[0]![i]! + fresh[1]![i]! + fresh[2]![i]!
    out[i] = all > 0 ? Math.max(0, 1 - changing / all) : 0
  }
  return out
}

/** What moving a donor leaves of noise at each frequency: of a donor that turns or grows the mean over the window. */
function responseUnder(share: StackShare, { x, y, w, h }: Rect): Spectrum {
  const transform = transformOf(share)
  if (isShift(transform))
    return responseOf(taps(transform[2], LANCZOS3).weights, taps(transform[5], LANCZOS3).weights)
  const back = invert(transform)
  const stretchAt = stretchUnder(transform)
  const out = new Float64Array(FREQUENCIES)
  for (let row = 0; row < PLACES; row++)
    for (let column = 0; column < PLACES; column++) {
      const [px, py] = [x + ((column + 0.5) * w) / PLACES, y + ((row + 0.5) * h) / PLACES]
      const from = apply(back, Math.floor(px), Math.floor(py))
      const { across, down } = stretchAt(Math.floor(px), Math.floor(py))
      const response = responseOf(
        stretchedTaps(from.x, across, LANCZOS3).weights,
        stretchedTaps(from.y, down, LANCZOS3).weights,
      )
      for (let i = 0; i < FREQUENCIES; i++) out[i]! += response[i]! / (PLACES * PLACES)
    }
  return out
}

/** @param more as much more of what changes is made, a factor of variance of 1 and more, but never more than all grain has */
export function lackingGrain(model: GrainModel, { kept, renewed }: Lent, more = 1): Lacking {
  const { whole } = model
  return {
    change: model.fresh.map((s, k) =>
      s.map((v, i) => Math.max(0, 1 - renewed * kept[i]!) * Math.max(v, Math.min(more * v, whole[k]![i]!))),
    ),
    absent: whole.map((s) => s.map((v, i) => Math.max(0, 1 - kept[i]!) * v)),
    carried: carriedOnce(model),
  }
}

/** Of a model the same always. */
const carriedShares = new WeakMap<GrainModel, number>()

function carriedOnce(model: GrainModel): number {
  const carried = carriedShares.get(model) ?? carriedOf(model)
  carriedShares.set(model, carried)
  return carried
}

/** The share that lasts where most of it does: what changes faster at some frequencies is added as new. */
function carriedOf({ whole, fresh }: GrainModel): number {
  const shares: number[] = []
  const most = Math.max(...whole.map((s) => Math.max(...s)))
  for (let k = 0; k < 3; k++)
    for (let i = 0; i < FREQUENCIES; i++)
      if (whole[k]![i]! > 0.01 * most) shares.push(1 - fresh[k]![i]! / whole[k]![i]!)
  if (shares.length === 0) return 0
  return shares.sort((a, b) => a - b)[Math.floor(0.9 * (shares.length - 1))]!
}
