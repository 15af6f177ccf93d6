// Frames that were shot just before and after a donor and show what it shows. A donor that is held, as all of a mosaic's pieces are,
// stands still and has the grain of one frame: from them it has on each target that of another, as the plate has it there.
import { everyInside } from '../../region/region.js'
import type { Candidate, FrameMatch, StackShare } from '../../search/result.js'
import { keyOf } from '../../shot/frame-key.js'
import { changeOver } from '../grain/change-over.js'
import { MIN_IN_ROW, toAndFro } from '../grain/in-a-row.js'
import { RENEWED, renewalOf } from '../grain/measure.js'
import type { GrainModel } from '../grain/model.js'
import { alongWith, changesIn, pacedWalk } from '../grain/paced-walk.js'
import { pieceWeights } from '../pieces.js'
import type { RepairJob } from '../repair.js'
import { apartOf } from './apart.js'
import { isSame } from './common-donors.js'
import { lendersOf, lentDonor } from './lent-donors.js'
import { stands } from './near-noise.js'
import { type PlatePace, wantedChanges } from './plate-pace.js'

/** So many frames to either side of a donor are looked at. */
const ROUND_FRAMES = 12
/** So many in a row come back seldom enough. */
const MAX_IN_ROW = 8
/**
 * A codec that begins anew changes by more than so many times the usual from one frame to the next: there a row ends. On plaza and
 * road others change by up to 3.4 times and those by 6.6 and more.
 */
const MAX_STEP = 4
/**
 * ... and one that repeats what it had changes by less than this in the usual cell: its row would stand still. On the plaza it is 0.3, on
 * the road, whose codec leaves most blocks of a still wall as they were, 1e-5 and less.
 */
const MIN_DETAIL = 0.1

/** Whose finest detail stands for that of one that lends; of some it is their own. */
interface FinestShare extends StackShare {
  /** Who lends it twice stands still as the plate does. */
  readonly isPaced: boolean
}

/** By target frame, for each that lends to it, in their order. */
export type FinestLenders = ReadonlyMap<number, readonly FinestShare[]>

/** A donor and frames round it, in their order. */
interface Row {
  readonly frames: readonly number[]
  /** R, G, B: what brings each to the donor's light. */
  readonly gains: readonly (readonly [number, number, number])[]
  /** Where the donor is among them. */
  readonly first: number
}

/**
 * @param model grain of the region
 * @param pace  of the plate; null: not known, or the candidate does not go with it
 * @returns null where the camera moves, no donor is held, or of none it is known who shows what it shows
 * @throws FRAME_UNREADABLE, FRAME_MISSING from the footage
 */
export async function finestLenders(
  job: RepairJob,
  candidate: Candidate,
  model: GrainModel,
  pace: PlatePace | null = null,
): Promise<FinestLenders | null> {
  const rows = new Map<string, Row | null>()
  const held = heldOf(job, candidate)
  const found = held.map(({ shares }) =>
    shares.map(({ share }): FinestShare => ({ ...share, isPaced: false })),
  )
  let isFound = false
  for (const [i, { match, shares }] of held.entries())
    for (const [piece, { share, times }] of shares.entries()) {
      const places = times === 0 ? placesFrom(held, i, piece) : []
      if (places.length < 2) continue
      const name = `${match.pieces ? piece : ''} ${keyOf(share)}`
      const area = areaOf(job, candidate, match, piece)
      let row = rows.get(name)
      if (row === undefined) {
        row = await rowRound(job, share, area, model)
        rows.set(name, row)
      }
      if (row === null) continue
      isFound = true
      const targets = places.map((_, k) => held[i + k]!.match.target)
      const walk = pace && (await pacedThrough(job, share, row, area, targets, pace))
      for (const [k, place] of places.entries()) {
        const at = walk?.[k] ?? toAndFro(row.first + k, row.frames.length)
        found[i + k]![place] = inRow(held[i + k]!.shares[place]!.share, row, at, walk !== null)
      }
    }
  return isFound ? new Map(held.map(({ match }, i) => [match.target, found[i]!])) : null
}

/** All frames that may be asked for that, where they lie. */
export function framesRound(job: RepairJob, candidate: Candidate): StackShare[] {
  const held = new Map<string, StackShare>()
  for (const { shares } of heldOf(job, candidate))
    for (const { share, times } of shares) if (times > 0) held.set(keyOf(share), share)
  return [...held.values()].flatMap((share) => {
    const lends = mayLend(job, share.plate)
    const round = Array.from({ length: 2 * ROUND_FRAMES + 1 }, (_, i) => share.frame - ROUND_FRAMES + i)
    return round.filter((frame) => lends.has(frame)).map((frame) => ({ ...share, frame }))
  })
}

/** Who lends to a frame, and for how many frames before it each has done so. */
interface HeldFrame {
  readonly match: FrameMatch
  readonly shares: readonly { readonly share: StackShare; readonly times: number }[]
}

/** None where nobody is held as he was shot. */
function heldOf({ result }: RepairJob, candidate: Candidate): HeldFrame[] {
  const { kind, frames } = candidate
  const mayHold = kind === 'hold' || kind === 'relay' || kind === 'mosaic'
  if (!mayHold || result.camera !== undefined || !stands(candidate)) return []
  let before: HeldFrame['shares'] = []
  return frames.map((match) => {
    const shares = lendersOf(match).map((share, place) => {
      const last = match.pieces ? before[place] : before.find((one) => isSame(one.share, share))
      return { share, times: last && isSame(last.share, share) ? last.times + 1 : 0 }
    })
    before = shares
    return { match, shares }
  })
}

/** 1 per pixel that it lends to, else 0. */
function areaOf(job: RepairJob, { map }: Candidate, match: FrameMatch, piece: number): Float32Array {
  const { region, workspace } = job
  const of = match.pieces
    ? pieceWeights(workspace, map!, match.pieces.length, match.map!, region.window)[piece]!
    : null
  const inside = everyInside(region)
  const out = new Float32Array(inside.length)
  markBoth(inside, of ?? inside, out)
  return out
}

/** Receives 1 where both are above 0. */
function markBoth(a: Readonly<Float32Array>, b: Readonly<Float32Array>, out: Float32Array): void {
  for (let i = 0; i < out.length; i++) if (a[i]! > 0 && b[i]! > 0) out[i] = 1
}

/** Where among those who lend one is, on a frame and on those after it to which he lends as well. */
function placesFrom(held: readonly HeldFrame[], index: number, place: number): number[] {
  const { share } = held[index]!.shares[place]!
  const places = [place]
  for (let k = 1; index + k < held.length; k++) {
    const { match, shares } = held[index + k]!
    const at = match.pieces ? place : shares.findIndex((one) => isSame(one.share, share))
    if (shares[at]?.times !== k) break
    places.push(at)
  }
  return places
}

/** One of a row, whose finest a donor has. */
function inRow(share: StackShare, { frames, gains }: Row, at: number, isPaced: boolean): FinestShare {
  const gain = share.gain.map((g, c) => g * gains[at]![c]!) as [number, number, number]
  return { ...share, frame: frames[at]!, gain, isPaced }
}

/** @returns indices into the row, for each target; null where the region does not change when the plate beside it does */
async function pacedThrough(
  job: RepairJob,
  share: StackShare,
  { frames, first }: Row,
  area: Readonly<Float32Array>,
  targets: readonly number[],
  pace: PlatePace,
): Promise<number[] | null> {
  const { workspace, region } = job
  const { surround } = region.frames.get(targets[0]!)!
  const changed = async (one: number, other: number, counts: Readonly<Float32Array>, isMixed: boolean) => {
    const [a, b] = [await lentDonor(job, at(one)), await lentDonor(job, at(other))]
    return changeOver(workspace, a.picture, b.picture, counts, isMixed)
  }
  const at = (index: number) => ({ ...share, frame: frames[index]! })
  const following = [...frames.keys()].filter((k) => frames[k] === (frames[k - 1] ?? Number.NaN) + 1)
  const [beside, there]: [(number | null)[], (number | null)[]] = [[], []]
  for (const k of following) {
    beside.push(await changed(k - 1, k, surround, true))
    there.push(await changed(k - 1, k, area, false))
  }
  const along = alongWith(beside, there)
  if (!along?.isAlong) return null
  const changeOf = await changesIn(frames.length, (one, other) => changed(one, other, area, false))
  return changeOf && pacedWalk(wantedChanges(targets, pace, along.times), frames.length, first, changeOf)
}

/** Of a codec only frames that follow each other have what it carries from one to the next. @returns null where there are too few */
async function rowRound(
  job: RepairJob,
  share: StackShare,
  area: Readonly<Float32Array>,
  model: GrainModel,
): Promise<Row | null> {
  const isCoded = renewalOf(model) <= RENEWED
  const lends = mayLend(job, share.plate)
  const found = new Map<number, Row['gains'][number]>([[share.frame, [1, 1, 1]]])
  const ended = new Set<number>()
  let detail = 0
  for (let away = 1; away <= ROUND_FRAMES; away++)
    for (const step of [1, -1]) {
      if (ended.has(step) || found.size === MAX_IN_ROW) continue
      const frame = share.frame + step * away
      const apart = lends.has(frame) ? await apartOf(job, share, frame, area, model) : null
      const last = { ...share, frame: frame - step }
      const changed =
        isCoded && apart?.isAlike && away > 1 ? await apartOf(job, last, frame, area, model) : apart
      if (apart?.isAlike && !(isCoded && changed!.change > MAX_STEP)) {
        found.set(frame, apart.gain)
        detail += changed!.detail
      } else if (isCoded) ended.add(step)
    }
  if (found.size < MIN_IN_ROW || (isCoded && detail < MIN_DETAIL * (found.size - 1))) return null
  const frames = [...found.keys()].sort((a, b) => a - b)
  return { frames, gains: frames.map((frame) => found.get(frame)!), first: frames.indexOf(share.frame) }
}

/** Those of a plate that may lend. */
function mayLend({ result }: RepairJob, plate: number): ReadonlySet<number> {
  const targets = plate === 0 ? result.target.frames : []
  const lending = (result.matrix?.donors ?? []).filter((d) => d.plate === plate).map(({ frame }) => frame)
  return new Set(lending.filter((frame) => !targets.includes(frame)))
}
