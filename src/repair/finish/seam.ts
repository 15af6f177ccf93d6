// The step across a patch's border, told by what lies on both sides of it: beyond the mask the plate is seen, and what is lent is
// known there, too. By how much their means differ in small cells along the border is the step that is seen there.
import { addSteps, CELL_PX, type CellSteps } from '../../kernels/change.js'
import type { Workspace } from '../../kernels/workspace.js'
import type { Frame } from '../../raster/frame.js'
import { dilate, GUARD_PX, support } from '../../region/region.js'
import { grainAt } from '../grain/model.js'
import type { SideLaw } from './change.js'
import { BLACK } from './pair.js'

/** Border on which it is told, beyond the pixels that a mask's edge spoils. */
const BORDER_PX = 8
const MIN_SAMPLES = CELL_PX ** 2 / 4
/** Fewer cells than this tell nothing. */
const MIN_CELLS = 4
/** Who stands across the border differs by more than so many times the usual variance; so does no light. */
const STANDING = 16

export interface Border {
  /** Linear RGB of the plate and of what is laid over it, over the window. */
  readonly target: Frame
  readonly patch: Frame
  /** Where it is told, as bandOf has it. */
  readonly band: Readonly<Int32Array>
  /** Light from which a sample is clipped. */
  readonly clip: number
}

/** By the surround of a mask. */
const bands = new WeakMap<Readonly<Float32Array>, Readonly<Int32Array>>()

/**
 * The plate next to a mask, once for all candidates: its pixels, ascending.
 *
 * @param inside the mask, 0 to 1 @param surround its own
 */
export function bandOf(
  inside: Readonly<Float32Array>,
  surround: Readonly<Float32Array>,
  width: number,
): Readonly<Int32Array> {
  const known = bands.get(surround)
  if (known !== undefined) return known
  const near = dilate(support(inside), width, inside.length / width, GUARD_PX + BORDER_PX)
  const band = pixelsOf(near, surround)
  bands.set(surround, band)
  return band
}

function pixelsOf(near: Readonly<Uint8Array>, surround: Readonly<Float32Array>): Int32Array {
  const all = new Int32Array(near.length)
  let n = 0
  for (let i = 0; i < near.length; i++) if (near[i] === 1 && surround[i] !== 0) all[n++] = i
  return all.slice(0, n)
}

/**
 * RMS over cells and channels: 1 where nothing but grain is between plate and patch, and 1.2 where their light differs by nine
 * tenths of a sample's grain.
 *
 * @returns null where too little of the border is seen, or the plate has no grain
 */
export function seamOf(
  workspace: Workspace,
  border: Border,
  { law, place }: Pick<SideLaw, 'law' | 'place'>,
): number | null {
  const { count, light, step } = cellsOf(workspace, border)
  const steps: number[] = []
  for (let k = 0; k < count.length; k++) {
    const n = count[k]!
    const more = place?.[k] ?? 1
    if (n < MIN_SAMPLES || more === 0) continue
    let sum = 0
    for (let c = 0; c < 3; c++) {
      const variance = 2 * grainAt(law, c, light[3 * k + c]! / n) ** 2 * more
      if (!(variance > 0)) return null
      // Of so many samples' grain the mean differs, too.
      sum += ((step[3 * k + c]! / n) ** 2 / variance - 1 / n) / 3
    }
    steps.push(sum)
  }
  if (steps.length < MIN_CELLS) return null
  const sorted = Float64Array.from(steps).sort()
  const limit = STANDING * Math.max(1, sorted[sorted.length >> 1]!)
  const told = steps.filter((v) => v <= limit)
  return Math.sqrt(Math.max(0, 1 + told.reduce((sum, v) => sum + v, 0) / told.length))
}

/** Per cell how many samples tell, and of R, G and B the sums of the plate's light and of what the patch has more. */
function cellsOf(workspace: Workspace, { target, patch, band, clip }: Border): CellSteps {
  const [height, width] = target.shape
  const cells = Math.ceil(width / CELL_PX) * Math.ceil(height / CELL_PX)
  const count = new Float64Array(cells)
  const [light, step] = [new Float64Array(3 * cells), new Float64Array(3 * cells)]
  addSteps(workspace, target.data, patch.data, band, width, { black: BLACK, clip }, { count, light, step })
  return { count, light, step }
}
