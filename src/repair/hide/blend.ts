// The donors of one target frame made into one picture: one of them alone, the mean of a stack, or the pieces of a mosaic.
import { readRect } from '../../footage/plate.js'
import { type Frame, frame } from '../../raster/frame.js'
import type { Rect } from '../../raster/rect.js'
import { apply, invert, type Transform, transformOf } from '../../raster/transform.js'
import type { PieceMap } from '../../search/piece-map.js'
import type { FrameMatch, StackShare } from '../../search/result.js'
import { detailIn, detailSpectrum } from '../grain/detail-spectrum.js'
import { detailEnergy } from '../grain/fit.js'
import { type Spectrum, TILE_PX } from '../grain/model.js'
import { donorRect, type Lent, lend } from '../lend.js'
import { pieceWeights } from '../pieces.js'
import type { RepairJob } from '../repair.js'

export interface Blended {
  readonly raw: Frame
  readonly matched: Frame
  readonly there: Uint8Array
  /** Detail of the donors by themselves, before they were averaged and blurred by moving them; see `detailEnergy`. */
  readonly energy: Float32Array
  /** The same at each frequency, mean over the region. */
  readonly spectrum: Spectrum
  /** Of a mosaic, per piece its share of every pixel. */
  readonly pieces: readonly Readonly<Float32Array>[] | null
}

/** Of a stack so many donors tell how strong its detail was: the first lend most. */
const WITNESSES = 3
/** Of a tile, right and down from its corner. */
const MIDDLE = TILE_PX / 2
/** Moving a donor takes at most so much of its detail: more is another part of the picture. */
const MOST_LOST = 2

/** Who lends a frame's pixels: of a mosaic each piece as if it lent everything. */
export function lendersOf(match: FrameMatch): readonly StackShare[] {
  return (
    match.stack ??
    match.pieces?.map((piece) => ({ ...piece, weight: 1 })) ?? [{ ...match, frame: match.donor, weight: 1 }]
  )
}

/** @throws FRAME_UNREADABLE, FRAME_MISSING from the footage */
export async function blend(
  job: RepairJob,
  match: FrameMatch,
  map: PieceMap | undefined,
  tiles: Readonly<Int32Array>,
): Promise<Blended> {
  const { window } = job.region
  const pieces = match.pieces ? pieceWeights(map!, match.pieces.length, match.map!, window) : null
  const shares = lendersOf(match)
  const pixels = window.w * window.h
  const matched = frame(window.h, window.w, 3)
  const raw = frame(window.h, window.w, 3)
  const weight = new Float32Array(pixels)
  const energy = new Float32Array(pixels)
  const spectrum = new Float64Array(TILE_PX * TILE_PX)
  let witnessed = 0
  for (const [k, share] of shares.entries()) {
    const { picture, there, source } = await lendShare(job, share)
    if (pieces !== null || k < WITNESSES) {
      const own = detailEnergy(picture)
      const mine = pieces === null ? tiles : tiles.filter((t) => pieces[k][t + MIDDLE * (window.w + 1)] > 0.5)
      const [before, after] = [source(mine), detailSpectrum(picture, mine)]
      const lost = Math.min(MOST_LOST, Math.max(1, detailIn(before) / Math.max(1e-12, detailIn(after))))
      const square = share.gain[1] ** 2 * lost
      for (let i = 0; i < pixels; i++) energy[i] += (pieces === null ? 1 : pieces[k][i]) * square * own[i]
      for (let i = 0; i < before.length; i++)
        spectrum[i] += (pieces === null ? 1 : mine.length) * share.gain[1] ** 2 * before[i]
      witnessed += pieces === null ? 1 : mine.length
    }
    for (let i = 0; i < pixels; i++) {
      const w = there[i] * (pieces === null ? share.weight : pieces[k][i])
      weight[i] += w
      for (let c = 0; c < 3; c++) {
        const value = picture.data[3 * i + c]
        raw.data[3 * i + c] += w * value
        matched.data[3 * i + c] += w * value * share.gain[c]
      }
    }
  }
  const there = Uint8Array.from(weight, (w) => (w > 0 ? 1 : 0))
  for (let i = 0; i < pixels; i++) {
    // Where some donors of a stack have a hole, the others' shares make up for it.
    const scale = weight[i] > 0 && Math.abs(weight[i] - 1) > 1e-6 ? 1 / weight[i] : 1
    for (let c = 3 * i; c < 3 * i + 3; c++) {
      raw.data[c] *= scale
      matched.data[c] *= scale
    }
  }
  if (pieces === null) for (let i = 0; i < pixels; i++) energy[i] /= witnessed
  for (let i = 0; i < spectrum.length; i++) spectrum[i] /= Math.max(1, witnessed)
  return { raw, matched, there, energy, spectrum, pieces }
}

async function lendShare(
  job: RepairJob,
  { plate, frame: number, ...placement }: StackShare,
): Promise<Lent & { source(tiles: Readonly<Int32Array>): Spectrum }> {
  const donor = job.donors[plate]
  const onTarget = transformOf(placement)
  const rect = donorRect(job.region.window, onTarget, donor.active)
  const source = await readRect(donor, number, rect)
  const lent = lend(job.workspace, source, rect, job.region.window, onTarget)
  return {
    ...lent,
    source: (tiles) => detailSpectrum(source, cornersIn(tiles, job.region.window, rect, onTarget)),
  }
}

/** The tiles of a window where a source has them, to whole pixels; those beyond it are left out. */
function cornersIn(tiles: Readonly<Int32Array>, window: Rect, source: Rect, onTarget: Transform): Int32Array {
  const back = invert(onTarget)
  const half = TILE_PX / 2
  const out: number[] = []
  for (const corner of tiles) {
    const middle = apply(
      back,
      window.x + (corner % window.w) + half,
      window.y + Math.floor(corner / window.w) + half,
    )
    const [x, y] = [Math.round(middle.x) - half - source.x, Math.round(middle.y) - half - source.y]
    if (x >= 0 && y >= 0 && x + TILE_PX <= source.w && y + TILE_PX <= source.h) out.push(y * source.w + x)
  }
  return Int32Array.from(out)
}
