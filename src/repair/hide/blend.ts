// The donors of one target frame made into one picture: one of them alone, the mean of a stack, or the pieces of a mosaic.
import { type Frame, frame } from '../../raster/frame.js'
import type { PieceMap } from '../../search/piece-map.js'
import type { FrameMatch, StackShare } from '../../search/result.js'
import { pieceWeights } from '../pieces.js'
import type { RepairJob } from '../repair.js'
import type { DonorsDetail } from './donors-detail.js'
import { lentDonor } from './lent-donors.js'
import { lightByField } from './lit-by-field.js'

export interface Blended {
  readonly raw: Frame
  readonly matched: Frame
  readonly there: Uint8Array
  /** Where it was asked for. */
  readonly detail: Pick<DonorsDetail, 'energy' | 'spectrum'> | null
  /** Of a mosaic, per piece its share of every pixel. */
  readonly pieces: readonly Readonly<Float32Array>[] | null
}

/** Who lends a frame's pixels: of a mosaic each piece as if it lent everything. */
export function lendersOf(match: FrameMatch): readonly StackShare[] {
  return (
    match.stack ??
    match.pieces?.map((piece) => ({ ...piece, weight: 1 })) ?? [{ ...match, frame: match.donor, weight: 1 }]
  )
}

/**
 * @param detail takes in the donors' own; null where nobody asks for it, since it takes its time
 * @throws FRAME_UNREADABLE, FRAME_MISSING from the footage
 */
export async function blend(
  job: RepairJob,
  match: FrameMatch,
  map: PieceMap | undefined,
  detail: DonorsDetail | null,
): Promise<Blended> {
  const { window } = job.region
  const pieces = match.pieces ? pieceWeights(map!, match.pieces.length, match.map!, window) : null
  const shares = lendersOf(match)
  const pixels = window.w * window.h
  const matched = frame(window.h, window.w, 3)
  const raw = frame(window.h, window.w, 3)
  const weight = new Float32Array(pixels)
  for (const [k, share] of shares.entries()) {
    const donor = await lentDonor(job, share)
    const { picture, there } = donor
    const lit = share.field ? { ...picture, data: picture.data.slice() } : picture
    if (share.field) lightByField(lit.data, window, share.field)
    detail?.add({ ...donor, gain: share.gain[1], piece: pieces?.[k] ?? null })
    const piece = pieces?.[k]
    const [red, green, blue] = share.gain
    for (let i = 0, j = 0; i < pixels; i++, j += 3) {
      const w = there[i] * (piece === undefined ? share.weight : piece[i])
      if (w === 0) continue
      weight[i] += w
      raw.data[j] += w * picture.data[j]
      raw.data[j + 1] += w * picture.data[j + 1]
      raw.data[j + 2] += w * picture.data[j + 2]
      matched.data[j] += w * lit.data[j] * red
      matched.data[j + 1] += w * lit.data[j + 1] * green
      matched.data[j + 2] += w * lit.data[j + 2] * blue
    }
  }
  const there = new Uint8Array(pixels)
  for (let i = 0; i < pixels; i++) {
    there[i] = weight[i] > 0 ? 1 : 0
    // Where some donors of a stack have a hole, the others' shares make up for it.
    if (there[i] === 0 || Math.abs(weight[i] - 1) <= 1e-6) continue
    const scale = 1 / weight[i]
    for (let c = 3 * i; c < 3 * i + 3; c++) {
      raw.data[c] *= scale
      matched.data[c] *= scale
    }
  }
  return { raw, matched, there, detail: detail?.done() ?? null, pieces }
}
