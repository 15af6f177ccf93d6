// The donors of one target frame made into one picture: one of them alone, the mean of a stack, or the pieces of a mosaic.
import { type Held, ownCopy, type Scratch, type Workspace } from '../../kernels/workspace.js'
import { type Frame, frame } from '../../raster/frame.js'
import type { Rect } from '../../raster/rect.js'
import type { PieceMap } from '../../search/piece-map-schema.js'
import type { FrameMatch, LightFieldEntry, StackShare } from '../../search/result.js'
import { hasHoles } from '../lend.js'
import { pieceWeights } from '../pieces.js'
import type { RepairJob } from '../repair.js'
import { DonorMean } from './donor-mean.js'
import type { DonorsDetail } from './donors-detail.js'
import { type Counted, countedIn, layFinest } from './finest.js'
import { type LentDonor, lendersOf, lentDonor, withLentDonor } from './lent-donors.js'
import { lightByField, litTo } from './lit-by-field.js'

export interface Blended {
  /** The donors on the target, their light as it was shot; null: nobody asked for it. Nothing of it is written over. */
  readonly raw: Frame | null
  /** In what was held for it. */
  readonly matched: Frame
  readonly there: Uint8Array
  /** Where it was asked for. */
  readonly detail: Pick<DonorsDetail, 'energy' | 'spectrum'> | null
  /** Of a mosaic, per piece its share of every pixel. */
  readonly pieces: readonly Readonly<Float32Array>[] | null
}

export interface BlendedAsShot extends Blended {
  readonly raw: Frame
}

/** As blendLit, with the donors' light as it was shot, too. */
export async function blend(
  job: RepairJob,
  match: FrameMatch,
  map: PieceMap | undefined,
  held: Held,
  detail: DonorsDetail | null,
): Promise<BlendedAsShot> {
  return (await blendLit(job, match, map, held, detail, true, null)) as BlendedAsShot
}

/**
 * @param held   lends what is matched
 * @param detail takes in the donors' own; null where nobody asks for it, since it takes its time
 * @param isRaw  whether their light as it was shot is asked for, too
 * @param finest of each that lends, whose finest detail stands for its own; null: their own does
 * @throws FRAME_UNREADABLE, FRAME_MISSING from the footage
 */
export async function blendLit(
  job: RepairJob,
  match: FrameMatch,
  map: PieceMap | undefined,
  held: Held,
  detail: DonorsDetail | null,
  isRaw: boolean,
  finest: readonly StackShare[] | null,
): Promise<Blended> {
  const { window } = job.region
  const { inside } = job.region.frames.get(match.target)!
  const pieces = match.pieces
    ? pieceWeights(job.workspace, map!, match.pieces.length, match.map!, window)
    : null
  const shares = lendersOf(match)
  // Who asks for donors as they were shot keeps them.
  const lends: typeof withLentDonor = isRaw
    ? async (of, share, use) => use(await lentDonor(of, share))
    : withLentDonor
  const [one] = shares
  if (shares.length === 1 && one!.weight === 1 && pieces === null) {
    const other = finest === null ? null : await otherThan(job, one!, finest[0]!)
    const alone = await lends(job, one!, (donor) => {
      if (hasHoles(donor.there)) return null
      const alone = lentAlone(job, one!, donor, held, detail, isRaw)
      if (other !== null)
        job.workspace.within((scratch) => {
          const lit = scratch.floats(other.picture.data.length)
          litTo(job.workspace, other.picture.data, window, finest![0]!, lit)
          const counted = countedIn(job.workspace, inside, donor.there, other.there, window.w)
          layFinest(job.workspace, scratch, alone.matched.data, lit, counted, window.w)
        })
      return alone
    })
    if (alone !== null) return alone
  }
  const pixels = window.w * window.h
  const mean = new DonorMean(job.workspace, held, pixels, isRaw)
  for (const [k, { field, weight, gain, ...placed }] of shares.entries()) {
    const piece = pieces?.[k] ?? null
    const other = finest === null ? null : await otherThan(job, shares[k]!, finest[k]!)
    await lends(job, { ...placed, weight, gain }, (donor) =>
      job.workspace.within((scratch) => {
        const picture = scratch.laid(donor.picture.data)
        let lit = field ? litBy(job.workspace, scratch, picture, window, field) : picture
        if (other !== null) {
          // All at the light of the one that lends, as it is lit afterwards.
          const gains = finest![k]!.gain.map((g, c) => g / gain[c]!) as [number, number, number]
          const its = scratch.floats(lit.length)
          litTo(job.workspace, other.picture.data, window, { gain: gains, field }, its)
          const own = lit === picture ? scratch.floats(lit.length) : lit
          if (own !== lit) own.set(lit)
          const counted = countedOf(job.workspace, inside, piece, donor, other, window.w)
          layFinest(job.workspace, scratch, own, its, counted, window.w)
          lit = own
        }
        detail?.add({ ...donor, gain: gain[1], piece })
        const lending = { picture, lit, there: donor.there, share: piece, gain }
        mean.add({ ...lending, weight: piece === null ? weight : 1 })
      }),
    )
  }
  const { raw, matched, there } = mean.done()
  return {
    raw: raw && frame(window.h, window.w, 3, ownCopy(raw)),
    matched: frame(window.h, window.w, 3, matched),
    there,
    detail: detail?.done() ?? null,
    pieces,
  }
}

/** The frame whose finest stands for a donor's; null where that is its own. */
async function otherThan(job: RepairJob, own: StackShare, finest: StackShare): Promise<LentDonor | null> {
  return own.frame === finest.frame ? null : lentDonor(job, finest)
}

/** Of a piece, the region's pixels that it lends to: the same on all frames of a camera that stands. */
const lentTo = new WeakMap<Readonly<Float32Array>, { inside: Readonly<Float32Array>; counts: Float32Array }>()

function lentInside(inside: Readonly<Float32Array>, piece: Readonly<Float32Array>): Float32Array {
  const known = lentTo.get(piece)
  if (known?.inside === inside) return known.counts
  const counts = new Float32Array(inside.length)
  for (let i = 0; i < counts.length; i++) counts[i] = inside[i]! * piece[i]!
  lentTo.set(piece, { inside, counts })
  return counts
}

/** Pixels of the region that a piece lends to. */
function countedOf(
  workspace: Workspace,
  inside: Readonly<Float32Array>,
  piece: Readonly<Float32Array> | null,
  one: LentDonor,
  other: LentDonor,
  width: number,
): Counted {
  const counts = piece === null ? inside : lentInside(inside, piece)
  return countedIn(workspace, counts, one.there, other.there, width)
}

function litBy(
  workspace: Workspace,
  scratch: Scratch,
  picture: Readonly<Float32Array>,
  window: Rect,
  field: LightFieldEntry,
): Float32Array {
  const lit = scratch.floats(picture.length)
  lightByField(workspace, picture, window, field, lit)
  return lit
}

/** Who lends alone, and everywhere, is shown as it is kept. */
function lentAlone(
  { workspace, region: { window } }: RepairJob,
  share: StackShare,
  donor: LentDonor,
  held: Held,
  detail: DonorsDetail | null,
  isRaw: boolean,
): Blended {
  const { picture, there } = donor
  detail?.add({ ...donor, gain: share.gain[1], piece: null })
  const data = held.floats(picture.data.length)
  litTo(workspace, picture.data, window, share, data)
  const matched = frame(window.h, window.w, 3, data)
  return { raw: isRaw ? picture : null, matched, there, detail: detail?.done() ?? null, pieces: null }
}
