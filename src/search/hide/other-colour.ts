// Candidates whose donors show the region in another colour than it has when it is empty: what luminance alone took for
// clean is not.

import type { Region } from '../../region/region.js'
import { type FrameKey, keyOf } from '../../shot/frame-key.js'
import { measureOf, percent } from '../measures.js'
import { unpackPieces } from '../piece-map.js'
import type { Candidate, FrameMatch } from '../result.js'
import { byRank, scoreOf, worseOf } from '../score.js'
import { eachInside } from './mask-on-grid.js'
import type { Matrix } from './matrix.js'

export interface Coloured {
  /** Over the window, 1 more than the number of a pixel's tile, 0 outside of the region. */
  readonly tileAt: Readonly<Int32Array>
  /** By frame key, how many times what shows a tile's colour differs from that of the empty region; below 1: 0. */
  readonly otherwise: ReadonlyMap<string, Float32Array>
}

/** 1 over the window where a frame shows another colour than the empty region has; null where its colours are not known. */
export type OtherColourOf = (frame: FrameKey) => Readonly<Uint8Array> | null

export function otherColourOf({ tileAt, otherwise }: Coloured): OtherColourOf {
  const known = new Map<string, Uint8Array>()
  return (frame) => {
    const key = keyOf(frame)
    const times = otherwise.get(key)
    if (times === undefined) return null
    const shown = known.get(key) ?? Uint8Array.from(tileAt, (tile) => (times[tile - 1] >= 1 ? 1 : 0))
    known.set(key, shown)
    return shown
  }
}

/**
 * The candidates with what shows another colour counted as not clean, best first; those that show none are as they were.
 *
 * @param candidates best first
 */
export function withoutOtherColour(
  candidates: readonly Candidate[],
  coloured: Coloured,
  region: Region,
  { targets }: Pick<Matrix, 'targets'>,
): Candidate[] {
  const { window, frames: masks } = region
  const whole = { ...window, x: 0, y: 0 }
  const targetOf = new Map(targets.map((t) => [t.frame, t]))
  const { tileAt } = coloured
  const tiles = tileAt.reduce((most, tile) => Math.max(most, tile), 0)
  const eachOn = (target: number, visit: (weight: number, i: number) => void) =>
    eachInside(masks.get(target)!.inside, targetOf.get(target)!, window, whole, visit)
  const covered = new Map<number, Float64Array>()
  /** What a target's mask covers of each tile, and, first, of what is none: the same for all candidates. */
  const coveredOn = (target: number): Float64Array => {
    const areas = covered.get(target) ?? new Float64Array(tiles + 1)
    if (!covered.has(target))
      eachOn(target, (weight, i) => {
        areas[tileAt[i]] += weight
      })
    covered.set(target, areas)
    return areas
  }
  const shareOf = (match: FrameMatch, pieceAt: PieceAt | null): number => {
    const lent = lentBy(match).map(({ key, weight }) => ({ of: coloured.otherwise.get(key), weight }))
    if (!lent.some(({ of }) => of?.some((times) => times > 0))) return 0
    const areas = coveredOn(match.target)
    const all = areas.reduce((sum, area) => sum + area, 0)
    let other = 0
    if (pieceAt !== null)
      eachOn(match.target, (weight, i) => {
        const times = lent[pieceAt(i)]?.of?.[tileAt[i] - 1] ?? 0
        if (times >= 1) other += weight
      })
    else
      for (let tile = 0; tile < tiles; tile++) {
        const times = lent.reduce((sum, { of, weight }) => sum + weight * (of?.[tile] ?? 0), 0)
        if (times >= 1) other += areas[tile + 1]
      }
    return all > 0 ? other / all : 0
  }
  const judged = candidates.map((candidate) => {
    const pieceAt = candidate.map ? piecesOn(candidate.map, window) : null
    const shares = candidate.frames.map((match) => shareOf(match, pieceAt))
    return shares.some((share) => share > 0) ? lessClean(candidate, shares) : candidate
  })
  return judged.sort(byRank)
}

interface Lent {
  readonly key: string
  /** Of a stack, the share of the light; else 1. */
  readonly weight: number
}

/** The frames that lend to a target frame, in the order of its pieces. */
function lentBy({ plate, donor, stack, pieces }: FrameMatch): Lent[] {
  if (stack) return stack.map((s) => ({ key: keyOf(s), weight: s.weight }))
  return (pieces ?? [{ plate, frame: donor }]).map((p) => ({ key: keyOf(p), weight: 1 }))
}

function lessClean(candidate: Candidate, shares: readonly number[]): Candidate {
  if (candidate.clean === null) return candidate
  const frames = candidate.frames.map((match, i) => {
    if (match.clean === null || match.clean <= 1 - shares[i]) return match
    return { ...match, clean: Number((1 - shares[i]).toFixed(4)) }
  })
  const clean = Math.min(candidate.clean, ...frames.flatMap((f) => f.clean ?? []))
  const less = { ...candidate, frames, clean, score: scoreOf({ ...candidate, clean }, candidate.kind) }
  const worst = Math.max(...shares)
  const { holds, works } = measureOf('clean').limits
  if (1 - worst >= holds[0]) return less
  const { target } = frames[shares.indexOf(worst)]
  const why = `${percent(worst)} of the region has another colour on ${target} than when it is empty`
  return {
    ...less,
    verdict: worseOf(candidate.verdict, 1 - worst > works[0] ? 'needs work' : 'will not hold'),
    why: candidate.verdict === 'holds up' ? why : `${why}; ${candidate.why}`,
  }
}

/** Which piece of a mosaic lies at a pixel of the window. */
type PieceAt = (i: number) => number

function piecesOn(map: NonNullable<Candidate['map']>, window: Region['window']): PieceAt {
  const labels = unpackPieces(map)
  const [x0, y0, w, h] = map.box
  return (i) => {
    const x = (i % window.w) + window.x - x0
    const y = Math.floor(i / window.w) + window.y - y0
    return x < 0 || y < 0 || x >= w || y >= h ? -1 : labels[y * w + x]
  }
}
