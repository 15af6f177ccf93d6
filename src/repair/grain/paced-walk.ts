// In which order frames that were shot in a row lend their grain, so that what changes from each to the next goes as it does beside
// the region. A codec changes much where it begins anew, less and less after that, and of a still wall often nothing: grain that
// changes by the same amount always boils on a plate that stands still, and stands still where all round it jumps.
import { toAndFro } from './in-a-row.js'

/** So many frames of a row may be passed over in a step, to change by more than neighbours do. */
const MAX_STRIDE = 6
/**
 * What each frame passed over costs, and so does standing still: squared natural logarithms of variance. Within a region a codec's
 * changes stray by a fifth from those beside it, so a step must fit better by three quarters.
 */
const STRIDE_PRICE = 0.3
/** Below this share of the usual change a plate stands still. */
const STILL = 0.05
/**
 * What changes beside a place must tell what changes in it better than its own mean does: by so much of that one's mean square, of
 * logarithms. Where all of plaza and road moves together it is 0.4 to 0.9; a crowd all over two other plates has 0.96 and 0.99, a thing
 * that was planted into the plaza 2.6 and 10.
 */
const MAX_STRAY = 0.9

/**
 * Forwards and backwards through a row, faster where more is to change and not at all where nothing is. Of all such walks the one
 * whose changes are the nearest, by the logarithm: R. Bellman, Dynamic Programming, 1957.
 *
 * @param wanted   variance that is to change with each step; null: not known, and neighbours follow each other
 * @param length   of the row, 2 and more
 * @param from     index that comes first; null: any
 * @param changeOf variance by which two of the row differ, of indices no more than MAX_STRIDE apart
 * @returns indices into the row, one more than steps
 */
export function pacedWalk(
  wanted: readonly (number | null)[],
  length: number,
  from: number | null,
  changeOf: (one: number, other: number) => number,
): number[] {
  const round = 2 * length - 2
  const still = stillOf(wanted)
  const starts = Array.from({ length: round }, (_, at) => from === null || toAndFro(at, length) === from)
  let costs = starts.map((isStart) => (isStart ? 0 : Number.POSITIVE_INFINITY))
  const strides: Int32Array[] = []
  for (const want of wanted) {
    const taken = new Int32Array(round)
    costs = costs.map((_, at) => {
      let least = Number.POSITIVE_INFINITY
      for (let stride = 0; stride <= Math.min(MAX_STRIDE, length - 1); stride++) {
        const before = (at - stride + round) % round
        const cost = costs[before]! + priceOf(stride, want, still, changeBetween(before, at))
        if (cost < least) {
          least = cost
          taken[at] = stride
        }
      }
      return least
    })
    strides.push(taken)
  }
  let at = costs.indexOf(Math.min(...costs))
  const walk = [toAndFro(at, length)]
  for (const taken of strides.reverse()) {
    at = (at - taken[at]! + round) % round
    walk.unshift(toAndFro(at, length))
  }
  return walk

  function changeBetween(before: number, after: number): number {
    const [one, other] = [toAndFro(before, length), toAndFro(after, length)]
    return one === other ? 0 : changeOf(one, other)
  }
}

function priceOf(stride: number, wanted: number | null, still: number, change: number): number {
  const price = STRIDE_PRICE * Math.abs(stride - 1)
  if (wanted === null || !(still > 0)) return price
  return price + Math.log((change + still) / (wanted + still)) ** 2
}

/** The same of steps that do not go with what is wanted: all of them together. */
export function timesWantedInAll(
  wanted: readonly (number | null)[],
  changes: readonly (number | null)[],
): number | null {
  const mean = (values: readonly (number | null)[]) => {
    const told = values.filter((v) => v !== null)
    return told.reduce((sum, v) => sum + v, 0) / Math.max(1, told.length)
  }
  const [want, change] = [mean(wanted), mean(changes)]
  return want > 0 && change > 0 ? want / change : null
}

/** How what changes in a place goes with what changes beside it. */
export interface Along {
  /** As much of it as beside it. */
  readonly times: number
  /** It is more and less there when it is beside it. */
  readonly isAlong: boolean
}

/**
 * @param beside variance that changes beside a place, of several steps, null where it is not known
 * @param there  in it, of the same
 * @returns null where nothing tells
 */
export function alongWith(
  beside: readonly (number | null)[],
  there: readonly (number | null)[],
): Along | null {
  const pairs = beside.flatMap((b, i) => {
    const t = there[i] ?? null
    return b === null || t === null ? [] : [{ b, t }]
  })
  const mean = (of: (pair: (typeof pairs)[number]) => number) =>
    pairs.reduce((sum, pair) => sum + of(pair), 0) / Math.max(1, pairs.length)
  const [usual, own] = [mean(({ b }) => b), mean(({ t }) => t)]
  if (!(usual > 0 && own > 0)) return null
  const logs = pairs.map(({ b, t }) => ({ b: Math.log(b / usual + STILL), t: Math.log(t / own + STILL) }))
  const middle = logs.reduce((sum, { t }) => sum + t, 0) / logs.length
  const square = (of: (pair: { b: number; t: number }) => number) =>
    logs.reduce((sum, pair) => sum + of(pair) ** 2, 0)
  const stray = square(({ b, t }) => t - b)
  return { times: own / usual, isAlong: stray <= MAX_STRAY * square(({ t }) => t - middle) }
}

function stillOf(wanted: readonly (number | null)[]): number {
  const told = wanted.filter((v) => v !== null)
  return (STILL * told.reduce((sum, v) => sum + v, 0)) / Math.max(1, told.length)
}

/**
 * What all that changes with a walk's steps is to be multiplied by, a variance, to come as near as it can to what is wanted: by the
 * logarithm as the walk does, so that one great step does not speak for many small ones.
 *
 * @param changes of each step, null where it is not known
 * @returns null where nothing tells
 */
export function timesWanted(
  wanted: readonly (number | null)[],
  changes: readonly (number | null)[],
): number | null {
  const still = stillOf(wanted)
  if (!(still > 0)) return null
  const ratios = wanted.flatMap((want, i) => {
    const change = changes[i] ?? null
    // What stands still is not to be made to move.
    const isTold = want !== null && change !== null && change > still
    return isTold ? [Math.log((want + still) / (change + still))] : []
  })
  return ratios.length > 0 ? Math.exp(ratios.reduce((sum, v) => sum + v, 0) / ratios.length) : null
}

/** By both indices: what those of a row that a walk may take one after the other differ by. @returns null where any is not known */
export async function changesIn(
  length: number,
  changeOf: (one: number, other: number) => Promise<number | null>,
): Promise<((one: number, other: number) => number) | null> {
  const changes = new Float64Array(length * length)
  for (let one = 0; one < length; one++)
    for (let other = one + 1; other < Math.min(length, one + MAX_STRIDE + 1); other++) {
      const change = await changeOf(one, other)
      if (change === null) return null
      changes[one * length + other] = change
      changes[other * length + one] = change
    }
  return (one, other) => changes[one * length + other]!
}
