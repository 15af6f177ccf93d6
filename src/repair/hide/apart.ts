// What a donor and a frame beside it differ by within a part of the region, and whether that is grain and nothing else.
import { CELL_PX, cellProducts } from '../../kernels/cells.js'
import { channelSums } from '../../kernels/patch.js'
import { select } from '../../match/selection.js'
import type { StackShare } from '../../search/result.js'
import { GREEN } from '../grain/detail-spectrum.js'
import { RENEWED, renewalOf } from '../grain/measure.js'
import { DARKEST, type GrainModel, grainAt, USUAL_POWER, varianceOf } from '../grain/model.js'
import { hasHoles } from '../lend.js'
import type { RepairJob } from '../repair.js'
import { lentDonor } from './lent-donors.js'

/**
 * By how much two frames of one surface differ over a cell at most, mean square and square of the mean, in units of the variance
 * by which two of grain do.
 */
const RENEWED_LIMITS = { squares: 4, mean: 0.5 }
/** A codec moves whole blocks by up to three times that (plaza, road); who passes differs by hundreds. */
const CODED_LIMITS = { squares: 16, mean: 4 }
/** Where a codec was seen to change by less than this, a factor of standard deviation, it may change by as much at another time. */
const MIN_WHERE = 0.5
/** Cells with few pixels that count, as at a piece's edge, may differ by more: one of so many by twice as much. */
const FEW = 8

type Rgb = [number, number, number]

export interface Apart {
  /** Brings the other to the light of the one, R, G, B. */
  readonly gain: Readonly<Rgb>
  /** Grain explains what they differ by, in every cell. */
  readonly isAlike: boolean
  /** Mean square of what they differ by over that by which grain changes from a frame to the next, 0 and more. */
  readonly change: number
  /** The same of what differs within the usual cell, whose means are brought to each other. */
  readonly detail: number
}

/**
 * @param frame of the donor's plate, where a camera that stands has it as the donor lies
 * @param area  1 per pixel of the window that counts, else 0
 * @returns null where one of them has a hole, or is black
 * @throws FRAME_UNREADABLE, FRAME_MISSING from the footage
 */
export async function apartOf(
  job: RepairJob,
  share: StackShare,
  frame: number,
  area: Readonly<Float32Array>,
  model: GrainModel,
): Promise<Apart | null> {
  const [one, two] = [await lentDonor(job, share), await lentDonor(job, { ...share, frame })]
  if (hasHoles(one.there) || hasHoles(two.there)) return null
  const [a, b] = [one, two].map(({ picture }) => channelSums(job.workspace, picture.data, area)) as [Rgb, Rgb]
  const gain = a.map((v, c) => v / b[c]!) as Rgb
  if (!gain.every((v) => v > 0 && Number.isFinite(v))) return null
  const width = job.region.window.w
  const compared = { one: one.picture.data, two: two.picture.data, counts: area, width }
  const cells = cellProducts(job.workspace, compared, CELL_PX)
  const columns = Math.floor(width / CELL_PX)
  const limits = renewalOf(model) > RENEWED ? RENEWED_LIMITS : CODED_LIMITS
  const [whole, fresh] = [varianceIn(model, 'whole'), varianceIn(model, 'fresh')]
  const r = gain[GREEN]
  let isAlike = true
  let [changed, expected] = [0, 0]
  const details = new Float32Array(cells.length / 6)
  let told = 0
  for (let at = 0, cell = 0; at < cells.length; at += 6, cell++) {
    const n = cells[at]!
    if (n === 0) continue
    const light = cells[at + 1]! / n
    const corner = Math.floor(cell / columns) * CELL_PX * width + (cell % columns) * CELL_PX
    const unit = 2 * grainAt(model, GREEN, light) ** 2 * placedAt(model.where, corner, width)
    const squares = Math.max(0, cells[at + 3]! - 2 * r * cells[at + 4]! + r * r * cells[at + 5]!) / n
    const mean = light - (r * cells[at + 2]!) / n
    const few = 1 + FEW / n
    if (squares > limits.squares * few * whole * unit) isAlike = false
    // Of few pixels grain's own mean is far from nothing.
    if (mean * mean > limits.mean * few * few * whole * unit) isAlike = false
    changed += n * squares
    if (fresh * unit > 0) details[told++] = Math.max(0, squares - mean * mean) / (fresh * unit)
    expected += n * fresh * unit
  }
  const detail = told > 0 ? select(details.subarray(0, told), told >> 1) : 0
  return { gain, isAlike, change: expected > 0 ? changed / expected : 0, detail }
}

/**
 * Mean variance of green's grain over a region, in the units of `awayInCells`.
 *
 * @param shown  linear RGB, where the light is told from
 * @param inside per pixel more than 0 where it counts
 */
export function grainVarianceOver(
  grain: GrainModel,
  shown: Readonly<Float32Array>,
  inside: Readonly<Float32Array>,
): number {
  const variance = varianceIn(grain, 'whole')
  let [sum, pixels] = [0, 0]
  for (let i = 0; i < inside.length; i++) {
    if (!(inside[i]! > 0)) continue
    const light = Math.max(DARKEST, shown[3 * i + GREEN]!)
    const sigma = grainAt(grain, GREEN, light) * (grain.where?.[i] ?? 1)
    sum += (sigma * sigma * variance) / light ** (2 * USUAL_POWER)
    pixels++
  }
  return sum / pixels
}

/** Green's variance of a model of unit light. */
function varianceIn({ mix, ...model }: GrainModel, of: 'whole' | 'fresh'): number {
  return model[of].reduce((sum, s, k) => sum + mix[3 * GREEN + k]! ** 2 * varianceOf(s), 0)
}

/** Mean square over a cell. */
function placedAt(where: Readonly<Float32Array> | null, corner: number, width: number): number {
  if (where === null) return 1
  let sum = 0
  for (let y = 0; y < CELL_PX; y++)
    for (let i = corner + y * width; i < corner + y * width + CELL_PX; i++)
      sum += Math.max(MIN_WHERE, where[i]!) ** 2
  return sum / CELL_PX ** 2
}
