// The match matrix: every target frame against every donor frame.
import { cleanShare, explainedSpread, markDirty } from '../match/clean.js'
import { nccOfSums, residualOfSums, stopsOfSums, sumPair } from '../match/ncc.js'
import { GOOD, HOLE } from '../match/working.js'
import type { OnProgress } from '../progress.js'
import type { Region, RegionFrame } from '../region/region.js'
import type { Registered, Registration } from './register.js'

/** What is known of one target frame against one donor frame. NaN never occurs: absent is null. */
export interface Pair {
  readonly ncc: number | null
  /** Target over donor on the surround, log base 2. */
  readonly stops: number | null
  /** RMS on the surround after the light is matched, over what grain alone gives; null: nothing trusted. */
  readonly seam: number | null
  /** RMS in the region from the empty state near the target, over what grain alone gives. */
  readonly inside: number | null
  readonly clean: number | null
}

export interface Matrix {
  readonly targets: readonly Registered[]
  readonly donors: readonly Registered[]
  pair(target: number, donor: number): Pair
  /** Expected squared error of lending, in grain units squared; Infinity where the pair is out of reach. */
  cost(target: number, donor: number): number
  /** How far the surround's pixels move from one frame to the next, grain and movement together: RMS, stops. */
  readonly unrest: number | null
}

/** Target frames that share one estimate of the empty state near them: light drifts little over so many. */
const BLOCK_FRAMES = 12
/** Clean donors nearest in time that make up the empty state near a block. */
const LOCAL_DONORS = 16
/** A donor counts towards that estimate when this much of its region agrees with the whole plate's empty state. */
const LOCAL_CLEAN = 0.97
/** A surround pixel this many spreads from the empty state shows something that passes by. */
const PASSING_SIGMA = 5
/** Least share of the surround that must be left to compare. */
const LEAST_SHARED = 0.2

export function matchMatrix(
  registration: Registration,
  region: Region,
  targets: readonly Registered[],
  donors: readonly Registered[],
  { reachPx, onProgress }: { reachPx: number; onProgress?: OnProgress },
): Matrix {
  const { empty, window } = registration
  const length = window.w * window.h
  const anySurround = region.frames.get(targets[0].frame)!.surround
  const spread = explainedSpread(empty, anySurround)
  const dirt = new Map(
    donors.map((d) => {
      const dirty = new Uint8Array(length)
      markDirty(d.aligned, d.light, d.trust, empty.level, spread, window.w, dirty)
      return [d, dirty]
    }),
  )
  const steady = new Map([...targets, ...donors].map((f) => [f, steadyPixels(f, empty.level, spread)]))
  const nd = donors.length
  const size = targets.length * nd
  const ncc = new Float32Array(size).fill(Number.NaN)
  const stops = new Float32Array(size).fill(Number.NaN)
  const seam = new Float32Array(size).fill(Number.NaN)
  const inside = new Float32Array(size).fill(Number.NaN)
  const clean = new Float32Array(size).fill(Number.NaN)
  const cost = new Float64Array(size).fill(Number.POSITIVE_INFINITY)
  const lists = new Map<RegionFrame, PixelLists>()
  let rings: { of: PixelLists; values: Float32Array[]; trust: Uint8Array[] } | undefined
  // Donors' rings are the same for every target frame that shares a mask: gathered once for a still mask.
  const ringsOf = (list: PixelLists) => {
    if (rings?.of !== list) {
      rings = {
        of: list,
        values: donors.map((d) => gather(d.aligned, list.surround)),
        trust: donors.map((d) => gatherTrust(steady.get(d)!, list.surround)),
      }
    }
    return rings
  }
  const listsOf = (f: RegionFrame): PixelLists => {
    let found = lists.get(f)
    if (!found) {
      found = pixelLists(f, spread)
      lists.set(f, found)
    }
    return found
  }

  for (let from = 0; from < targets.length; from += BLOCK_FRAMES) {
    const block = targets.slice(from, from + BLOCK_FRAMES)
    const blockFrame = region.frames.get(block[block.length >> 1].frame)!
    const local = localEmpty(block, donors, dirt, blockFrame, empty.level)
    const regionCache = new Map<RegionFrame, Float64Array>()
    for (const [row, target] of block.entries()) {
      const t = from + row
      const weights = region.frames.get(target.frame)!
      const list = listsOf(weights)
      if (list.inside.length === 0) continue
      let regions = regionCache.get(weights)
      if (!regions) {
        regions = regionErrors(donors, local, list)
        regionCache.set(weights, regions)
      }
      const targetRing = gather(target.aligned, list.surround)
      const targetTrust = gatherTrust(steady.get(target)!, list.surround)
      const ringWeight = Float32Array.from(targetTrust)
      const { values, trust } = ringsOf(list)
      for (let d = 0; d < nd; d++) {
        const donor = donors[d]
        if (donor === target) continue
        const dx = donor.dx - target.dx
        const dy = donor.dy - target.dy
        if (Math.abs(dx) > reachPx + 0.5 || Math.abs(dy) > reachPx + 0.5 || !donor.held) continue
        const at = t * nd + d
        const sums = sumPair(targetRing, values[d], ringWeight, trust[d])
        clean[at] = cleanShare(dirt.get(donor)!, weights.inside) ?? Number.NaN
        inside[at] = Math.sqrt(regions[d]) / list.insideSpread
        if (sums.weight < LEAST_SHARED * list.surround.length) {
          cost[at] = (1 + inside[at] ** 2) * 4
          continue
        }
        ncc[at] = nccOfSums(sums) ?? Number.NaN
        stops[at] = stopsOfSums(sums) ?? Number.NaN
        seam[at] = (residualOfSums(sums) ?? Number.NaN) / (Math.SQRT2 * list.surroundSpread)
        cost[at] = inside[at] ** 2 + SEAM_SHARE * seam[at] ** 2
      }
      onProgress?.({ phase: 'matching', done: t + 1, total: targets.length })
    }
  }
  const value = (v: number): number | null => (Number.isNaN(v) ? null : v)
  return {
    targets,
    donors,
    pair(t, d) {
      const at = t * nd + d
      return {
        ncc: value(ncc[at]),
        stops: value(stops[at]),
        seam: value(seam[at]),
        inside: value(inside[at]),
        clean: value(clean[at]),
      }
    },
    cost: (t, d) => cost[t * nd + d],
    unrest: unrestOf(registration.frames, steady, listsOf(region.frames.get(targets[0].frame)!).surround),
  }
}

/** How much the surround's residual says about the region's, beside what the region itself says. */
const SEAM_SHARE = 0.25

interface PixelLists {
  readonly surround: Int32Array
  readonly inside: Int32Array
  readonly insideWeight: Float32Array
  /** RMS of the explained spread on either, stops. */
  readonly surroundSpread: number
  readonly insideSpread: number
}

function pixelLists(frame: RegionFrame, spread: Readonly<Float32Array>): PixelLists {
  const surround: number[] = []
  const inside: number[] = []
  for (let i = 0; i < spread.length; i++) {
    if (frame.surround[i] > 0) surround.push(i)
    if (frame.inside[i] > 0) inside.push(i)
  }
  return {
    surround: Int32Array.from(surround),
    inside: Int32Array.from(inside),
    insideWeight: Float32Array.from(inside, (i) => frame.inside[i]),
    surroundSpread: rms(surround, spread),
    insideSpread: rms(inside, spread),
  }
}

function rms(list: readonly number[], values: Readonly<Float32Array>): number {
  let sum = 0
  for (const i of list) sum += values[i] ** 2
  return list.length > 0 ? Math.sqrt(sum / list.length) : 1
}

function gather(values: Readonly<Float32Array>, list: Readonly<Int32Array>): Float32Array {
  const out = new Float32Array(list.length)
  for (let i = 0; i < list.length; i++) out[i] = values[list[i]]
  return out
}

function gatherTrust(values: Readonly<Uint8Array>, list: Readonly<Int32Array>): Uint8Array {
  const out = new Uint8Array(list.length)
  for (let i = 0; i < list.length; i++) out[i] = values[list[i]]
  return out
}

/** 1 where a frame's pixel is good and shows what the empty state shows: nobody passes there. */
function steadyPixels(
  f: Registered,
  level: Readonly<Float32Array>,
  spread: Readonly<Float32Array>,
): Uint8Array {
  const out = new Uint8Array(level.length)
  for (let i = 0; i < out.length; i++) {
    const off = Math.abs(f.aligned[i] + f.light - level[i])
    out[i] = f.trust[i] === GOOD && off <= PASSING_SIGMA * spread[i] + 0.05 ? 1 : 0
  }
  return out
}

/** Neighbouring frames that are compared for unrest: enough for a mean, spread over the plate. */
const UNREST_PAIRS = 24

/** RMS change of the surround from one frame to the next over the root of two, where nobody passes; light matched. */
function unrestOf(
  frames: readonly Registered[],
  steady: ReadonlyMap<Registered, Uint8Array>,
  surround: Readonly<Int32Array>,
): number | null {
  const pairs = frames.flatMap((b, i) => {
    const a = frames[i - 1]
    const next = a !== undefined && a.plate === b.plate && a.frame + 1 === b.frame
    return next && steady.has(a) && steady.has(b) ? [{ a, b }] : []
  })
  const stride = Math.max(1, Math.floor(pairs.length / UNREST_PAIRS))
  let sum = 0
  let n = 0
  for (let k = 0; k < pairs.length; k += stride) {
    const { a, b } = pairs[k]
    const sa = steady.get(a)!
    const sb = steady.get(b)!
    for (const i of surround) {
      if (sa[i] === 0 || sb[i] === 0) continue
      sum += (b.aligned[i] + b.light - a.aligned[i] - a.light) ** 2
      n++
    }
  }
  return n > 0 ? Math.sqrt(sum / n / 2) : null
}

/** The empty state near a block of target frames: the mean of the clean donors nearest in time. */
function localEmpty(
  block: readonly Registered[],
  donors: readonly Registered[],
  dirt: ReadonlyMap<Registered, Uint8Array>,
  weights: RegionFrame,
  level: Readonly<Float32Array>,
): Float32Array {
  const middle = (block[0].frame + block[block.length - 1].frame) / 2
  const own = block[0].plate
  const near = donors
    .filter((d) => d.held && (cleanShare(dirt.get(d)!, weights.inside) ?? 0) >= LOCAL_CLEAN)
    .sort((a, b) => distance(a, own, middle) - distance(b, own, middle))
    .slice(0, LOCAL_DONORS)
  const sum = new Float64Array(level.length)
  const n = new Uint16Array(level.length)
  for (const d of near) {
    const dirty = dirt.get(d)!
    for (let i = 0; i < level.length; i++) {
      if (dirty[i] === 1) continue
      sum[i] += d.aligned[i] + d.light
      n[i]++
    }
  }
  return Float32Array.from(level, (v, i) => (n[i] > 0 ? sum[i] / n[i] : v))
}

/** Frames between a donor and the block; another plate's frames have no place in its time. */
function distance(donor: Registered, plate: number, middle: number): number {
  return donor.plate === plate ? Math.abs(donor.frame - middle) : Number.MAX_SAFE_INTEGER
}

/** Mean square difference from the local empty state in the region, stops squared, per donor. */
function regionErrors(
  donors: readonly Registered[],
  local: Readonly<Float32Array>,
  list: PixelLists,
): Float64Array {
  const out = new Float64Array(donors.length)
  for (let d = 0; d < donors.length; d++) {
    const { aligned, light, trust } = donors[d]
    let sum = 0
    let all = 0
    for (let k = 0; k < list.inside.length; k++) {
      const i = list.inside[k]
      const w = list.insideWeight[k]
      // A hole can't be lent: it costs as much as a full stop of difference.
      const off = trust[i] === HOLE ? 1 : aligned[i] + light - local[i]
      sum += w * off * off
      all += w
    }
    out[d] = all > 0 ? sum / all : 0
  }
  return out
}
