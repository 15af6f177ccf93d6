// Detail of a picture: what is coarser than grain and finer than light, bent so that strong and faint count nearly alike.
// Whole-pixel offsets are looked for in it.
import { correlate } from '../kernels/correlate.js'
import { softSign, subtractBoxMean } from '../kernels/detail.js'
import { smooth } from '../kernels/pyramid.js'
import type { Scratch, Workspace } from '../kernels/workspace.js'
import type { Plane } from '../raster/plane.js'
import { select } from './selection.js'

/** Radius in pixels of the mean that is taken off a level as light. */
const DETAIL_RADIUS = 4
/** Pixels that are correlated at a level: of more, every so many rows. */
const MAX_CORRELATED = 10_000
/** A picture whose variance is below this share of its mean square is flat: what float32 sums round away. */
const FLAT = 1e-6

/** One size of the reference for the search in whole pixels: squashed detail. */
export interface DetailLevel {
  readonly x: number
  readonly y: number
  readonly width: number
  readonly height: number
  /** Detail of this strength, stops, is squashed to a half. */
  readonly knee: number
  readonly weight: Float32Array
  /** Weight times squashed detail. */
  readonly product: Float32Array
  /** Every so many rows are correlated. */
  readonly step: number
  /** Pixels that count in those rows. */
  readonly compared: number
  /** Worked out when first asked for: the finest level is correlated only where a straight edge is all there is. */
  readonly summed: () => Summed
}

/** Sums of w, w r, w r r over the correlated rows above and the columns left of each corner; `width + 1` a row. */
type Summed = readonly [w: Float64Array, wr: Float64Array, wrr: Float64Array]

/**
 * What is coarser than grain and finer than light, from about 2 to 2 * DETAIL_RADIUS pixels.
 *
 * @param out receives it, as many samples as the picture has
 */
export function detailOf(
  workspace: Workspace,
  picture: Plane,
  out: Float32Array = new Float32Array(picture.data.length),
): Plane {
  const detail = smooth(workspace, picture, out)
  subtractBoxMean(workspace, picture, DETAIL_RADIUS, out)
  return detail
}

/** Median strength of the detail that counts, and more than nothing. */
export function kneeOf(detail: Readonly<Float32Array>, weight: Readonly<Float32Array>): number {
  const stride = Math.max(1, Math.floor(detail.length / 4096))
  const strengths = new Float32Array(Math.ceil(detail.length / stride))
  let n = 0
  for (let i = 0; i < detail.length; i += stride) if (weight[i] > 0) strengths[n++] = Math.abs(detail[i])
  return Math.max(1e-5, n > 0 ? 2 * select(strengths, n >> 1, n) : 0)
}

/**
 * A reference's picture as a level. Its detail is bent, so that strong and faint count nearly alike: the offset is then
 * what most of the picture agrees on. In a plain correlation one dark coat against a bright wall outweighs the wall, and
 * the wall is what the camera moves with.
 */
export function detailLevel(
  workspace: Workspace,
  picture: Plane,
  weight: Readonly<Float32Array>,
): DetailLevel {
  return workspace.within((scratch) => {
    const detail = detailOf(workspace, picture, scratch.floats(picture.data.length))
    const knee = kneeOf(detail.data, weight)
    softSign(workspace, detail.data, knee)
    return levelOf(detail, weight, knee)
  })
}

/** @param detail squashed */
export function levelOf(detail: Plane, weight: Readonly<Float32Array>, knee: number): DetailLevel {
  const { x, y, width, height, data } = detail
  const step = Math.max(1, Math.ceil(count(weight) / MAX_CORRELATED))
  const product = weighedBy(weight, data)
  let compared = 0
  for (let v = 0; v < height; v += step) compared += count(weight.subarray(v * width, (v + 1) * width))
  const level = { x, y, width, height, knee, weight: weight.slice(), product, step, compared }
  let summed: Summed | undefined
  return {
    ...level,
    summed() {
      summed ??= sumUp(level)
      return summed
    },
  }
}

/** Products with the weights that are above 0; else 0. */
function weighedBy(weight: Readonly<Float32Array>, data: Readonly<Float32Array>): Float32Array {
  const product = new Float32Array(weight.length)
  for (let i = 0; i < product.length; i++) if (weight[i] > 0) product[i] = weight[i] * data[i]
  return product
}

function sumUp({ width, height, weight, product, step }: Omit<DetailLevel, 'summed'>): Summed {
  const stride = width + 1
  const make = () => new Float64Array(stride * (height + 1))
  const [w, wr, wrr] = [make(), make(), make()]
  for (let v = 0, i = 0; v < height; v++) {
    let row = 0
    let rowR = 0
    let rowRR = 0
    const used = v % step === 0
    for (let u = 0, at = (v + 1) * stride + 1; u < width; u++, i++, at++) {
      if (used && weight[i] > 0) {
        row += weight[i]
        rowR += product[i]
        rowRR += (product[i] * product[i]) / weight[i]
      }
      w[at] = w[at - stride] + row
      wr[at] = wr[at - stride] + rowR
      wrr[at] = wrr[at - stride] + rowRR
    }
  }
  return [w, wr, wrr]
}

/** Correlation by whole-pixel offset; -2 where nothing can be said (flat, or outside the donor's rectangle). */
export type Correlate = (dx: number, dy: number) => number

/**
 * What the reference alone contributes is looked up by the corners of the part that is seen: F. C. Crow, Summed-Area
 * Tables for Texture Mapping (1984).
 *
 * @param picture whose detail is correlated, squashed as the level's is
 * @param scratch of the workspace; the answer is good for as long as it lasts
 */
export function correlation(
  workspace: Workspace,
  scratch: Scratch,
  level: DetailLevel,
  picture: Plane,
): Correlate {
  const detail = detailOf(workspace, picture, scratch.floats(picture.data.length))
  softSign(workspace, detail.data, level.knee)
  return correlationOf(workspace, scratch, level, detail)
}

/** @param donor squashed detail */
export function correlationOf(
  workspace: Workspace,
  scratch: Scratch,
  level: DetailLevel,
  donor: Plane,
): Correlate {
  const { width, height, step } = level
  const [weights, products, squares] = level.summed()
  const weight = scratch.laid(level.weight)
  const product = scratch.laid(level.product)
  const data = scratch.laid(donor.data)
  const sums = scratch.doubles(3)
  return (dx, dy) => {
    const left = level.x - donor.x - dx
    const top = level.y - donor.y - dy
    const x0 = Math.max(0, -left)
    const x1 = Math.min(width, donor.width - left)
    const y0 = Math.ceil(Math.max(0, -top) / step) * step
    const y1 = Math.min(height, donor.height - top)
    if (x0 >= x1 || y0 >= y1) return -2
    const seen = { data: weight, from: y0 * width + x0, stride: width }
    const there = { data, from: (y0 + top) * donor.width + x0 + left, stride: donor.width }
    correlate(workspace, seen, product, there, x1 - x0, y1 - y0, step, sums)
    const w = within(weights, width + 1, x0, y0, x1, y1)
    if (w <= 0) return -2
    const sr = within(products, width + 1, x0, y0, x1, y1)
    const srr = within(squares, width + 1, x0, y0, x1, y1)
    const vr = srr - (sr * sr) / w
    const vd = sums[1] - (sums[0] * sums[0]) / w
    if (vr <= FLAT * srr || vd <= FLAT * sums[1]) return -2
    return (sums[2] - (sr * sums[0]) / w) / Math.sqrt(vr * vd)
  }
}

/** A rectangle's sum from a table of sums. */
function within(
  table: Readonly<Float64Array>,
  stride: number,
  x0: number,
  y0: number,
  x1: number,
  y1: number,
): number {
  return table[y1 * stride + x1] - table[y0 * stride + x1] - table[y1 * stride + x0] + table[y0 * stride + x0]
}

/** How many pixels weigh more than nothing. */
export function count(weight: Readonly<Float32Array>): number {
  let n = 0
  for (let i = 0; i < weight.length; i++) if (weight[i] > 0) n++
  return n
}
