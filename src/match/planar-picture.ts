// Pictures made ready to be laid on each other: levels from fine to coarse, of each the pixels that tell most.
import { softSign } from '../kernels/detail.js'
import { halve, smooth } from '../kernels/pyramid.js'
import type { Workspace } from '../kernels/workspace.js'
import type { Plane } from '../raster/plane.js'
import type { Rect } from '../raster/rect.js'
import { detailOf, kneeOf } from './detail.js'
import { halfBits, halveWeights } from './half-bits.js'

/** Pixels that are compared at the finest level, and at those that only lead to it, about. */
const MAX_PIXELS = 2600
const MAX_LEADING = 1400
/** A picture whose strongest gradients are below this, stops a pixel (RMS), is flat. */
const FLAT_GRADIENT = 0.001
/** Cells that they are chosen from, along the longer side of a picture. */
const CELLS = 20
/** Fewer than this say nothing. */
export const MIN_PIXELS = 150
/** The coarsest level is about so wide: what moves by a tenth of the picture is still near there. */
const COARSEST_PX = 72
/** No level has more pixels than this: cells round their share up. */
export const MAX_LISTED = MAX_PIXELS + 2 * CELLS * CELLS

export interface Level {
  /** Picture pixels per pixel of the level. */
  readonly factor: number
  readonly x: Float32Array
  readonly y: Float32Array
  readonly value: Float32Array
  readonly weight: Float32Array
  readonly gradientX: Float32Array
  readonly gradientY: Float32Array
}

/** A picture that others are laid on. */
export interface PlanarReference {
  readonly rect: Rect
  /** Finest first. */
  readonly levels: readonly Level[]
  /** The middle of what counts and half its diagonal, pixels from the picture's corner. */
  readonly centre: { readonly x: number; readonly y: number; readonly radius: number }
  /** Squashed detail at the finest level's pixels. */
  readonly detail: Float32Array
  readonly knee: number
}

/** A picture that is laid on others: its levels, finest first, with what of them is known. */
export interface PlanarDonor {
  readonly rect: Rect
  readonly levels: readonly { readonly picture: Plane; readonly known: Uint8Array }[]
  readonly detail: Plane
}

/**
 * @param picture log2 luminance
 * @param weight  0 or more per pixel of it; 0 leaves the pixel out
 * @returns null where too little of it counts, or all of it is flat
 */
export function preparePlanar(
  workspace: Workspace,
  picture: Plane,
  weight: Readonly<Float32Array>,
): PlanarReference | null {
  const levels: Level[] = []
  let current: Plane = { ...picture, x: 0, y: 0 }
  let weights: Readonly<Float32Array> = weight
  for (let factor = 1; ; factor *= 2) {
    const level = levelOf(smooth(workspace, current), weights, factor)
    if (level.x.length < MIN_PIXELS) break
    levels.push(level)
    if (Math.max(current.width, current.height) < 2 * COARSEST_PX) break
    weights = halveWeights(weights, current.width, current.height)
    current = { ...halve(workspace, current), x: 0, y: 0 }
  }
  if (levels.length === 0 || isFlat(levels[0])) return null
  const detail = detailOf(workspace, { ...picture, x: 0, y: 0 })
  const knee = kneeOf(detail.data, weight)
  softSign(workspace, detail.data, knee)
  const { x, y } = levels[0]
  const own = new Float32Array(x.length)
  for (let k = 0; k < own.length; k++) own[k] = detail.data[y[k] * detail.width + x[k]]
  return {
    rect: { x: picture.x, y: picture.y, w: picture.width, h: picture.height },
    levels,
    centre: centreOf(x, y),
    detail: own,
    knee,
  }
}

/**
 * @param picture log2 luminance
 * @param known   1 per pixel that says something
 * @param knee    the reference's
 */
export function planarDonor(
  workspace: Workspace,
  picture: Plane,
  known: Readonly<Uint8Array>,
  knee: number,
): PlanarDonor {
  const levels: { picture: Plane; known: Uint8Array }[] = []
  let current: Plane = { ...picture, x: 0, y: 0 }
  let bits = Uint8Array.from(known)
  for (;;) {
    levels.push({ picture: smooth(workspace, current), known: bits })
    if (Math.max(current.width, current.height) < 2 * COARSEST_PX) break
    bits = halfBits(bits, current.width, current.height)
    current = { ...halve(workspace, current), x: 0, y: 0 }
  }
  const detail = detailOf(workspace, { ...picture, x: 0, y: 0 })
  softSign(workspace, detail.data, knee)
  return { rect: { x: picture.x, y: picture.y, w: picture.width, h: picture.height }, levels, detail }
}

/**
 * The pixels that tell most: in every cell of the picture those of the strongest gradient, as many in each, so that no part
 * of it has the word for all.
 */
function levelOf({ width, height, data }: Plane, weight: Readonly<Float32Array>, factor: number): Level {
  const most = factor === 1 ? MAX_PIXELS : MAX_LEADING
  const side = Math.max(4, Math.ceil(Math.max(width, height) / CELLS))
  const columns = Math.ceil(width / side)
  const rows = Math.ceil(height / side)
  const strength = (i: number) => (data[i + 1] - data[i - 1]) ** 2 + (data[i + width] - data[i - width]) ** 2
  const cells: number[][] = []
  let all = 0
  for (let row = 0; row < rows; row++)
    for (let column = 0; column < columns; column++) {
      const cell: number[] = []
      const [right, bottom] = [
        Math.min(width - 1, (column + 1) * side),
        Math.min(height - 1, (row + 1) * side),
      ]
      for (let y = Math.max(1, row * side); y < bottom; y++)
        for (let x = Math.max(1, column * side), i = y * width + x; x < right; x++, i++)
          if (weight[i] > 0) cell.push(i)
      if (cell.length > 0) cells.push(cell)
      all += cell.length
    }
  const share = Math.min(1, most / all)
  const places: number[] = []
  for (const cell of cells) {
    const wanted = Math.ceil(share * cell.length)
    if (wanted < cell.length) cell.sort((p, q) => strength(q) - strength(p))
    for (let k = 0; k < wanted; k++) places.push(cell[k])
  }
  const n = places.length
  const [x, y, value, kept, gradientX, gradientY] = Array.from({ length: 6 }, () => new Float32Array(n))
  for (const [k, i] of places.entries()) {
    x[k] = i % width
    y[k] = Math.floor(i / width)
    value[k] = data[i]
    kept[k] = weight[i]
    gradientX[k] = (data[i + 1] - data[i - 1]) / 2
    gradientY[k] = (data[i + width] - data[i - width]) / 2
  }
  return { factor, x, y, value, weight: kept, gradientX, gradientY }
}

function isFlat({ gradientX, gradientY }: Level): boolean {
  let sum = 0
  for (let k = 0; k < gradientX.length; k++) sum += gradientX[k] ** 2 + gradientY[k] ** 2
  return sum < gradientX.length * FLAT_GRADIENT ** 2
}

function centreOf(x: Readonly<Float32Array>, y: Readonly<Float32Array>): PlanarReference['centre'] {
  const bounds = (of: Readonly<Float32Array>) =>
    of.reduce(([a, b], v) => [Math.min(a, v), Math.max(b, v)], [of[0], of[0]])
  const [left, right] = bounds(x)
  const [top, bottom] = bounds(y)
  return {
    x: (left + right) / 2,
    y: (top + bottom) / 2,
    radius: Math.max(1, Math.hypot(right - left, bottom - top) / 2),
  }
}
