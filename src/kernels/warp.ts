// A picture moved by any transform, its channels side by side.
import { CUBIC, type Filter } from '../raster/filters.js'
import { MAX_STRETCH } from '../raster/footprint.js'
import { bitsToHalf, HALF_NAN, halvesToFloats } from '../raster/half.js'
import { intersect, isEmpty, type Rect } from '../raster/rect.js'
import { compose, invert, isWhole, shift, type Transform } from '../raster/transform.js'
import { filterTables } from './filter-tables.js'
import { Workspace } from './workspace.js'

/** Samples over a rectangle of a plate or of the common grid, row-major, channels side by side. */
export interface Samples {
  readonly rect: Rect
  readonly data: Float32Array
}

export interface WarpOptions {
  readonly channels: 1 | 3
  readonly filter: Filter
  /** What a pixel shows whose place the source does not cover: its edge, or NaN. */
  readonly beyond: 'edge' | 'nothing'
}

/**
 * Moves a picture by a transform, over `out`'s rectangle: out(p) = source(invert(transform)(p)). The filter is stretched
 * where the source is made smaller (`src/raster/footprint.ts`), and where it reaches beyond the source the edge samples
 * are repeated.
 *
 * @param out may lie in the source's own samples
 * @throws RangeError where the transform has no inverse
 */
export function warp(
  workspace: Workspace,
  source: Samples,
  transform: Transform,
  out: Samples,
  options: WarpOptions,
): void {
  workspace.within((scratch) => {
    // Four samples are read where three are a pixel's. A copy, as rows of the result come from anywhere in the source.
    const data = scratch.floats(source.data.length + 1)
    data.set(source.data)
    warpCopy(workspace, { rect: source.rect, data }, transform, out, options)
  })
}

/** @param source with room for a sample more, in the workspace and nobody else's */
function warpCopy(
  workspace: Workspace,
  { rect, data }: Samples,
  transform: Transform,
  out: Samples,
  { channels, filter, beyond }: WarpOptions,
): void {
  // From the result's corner to the source's, so that coordinates stay small.
  const back = compose(shift(-rect.x, -rect.y), compose(invert(transform), shift(out.rect.x, out.rect.y)))
  if (isEmpty(rect) || isEmpty(out.rect)) return
  const radius = filter.radius < 1 ? 0 : filter.radius
  const { phases, profile } = filterTables(filter)
  workspace.run((kernels, room) =>
    kernels.warp(
      room.read(data),
      rect.w,
      rect.h,
      channels,
      room.read(Float64Array.from(back)),
      back[6] === 0 && back[7] === 0 ? 1 : 0,
      radius,
      room.read(phases),
      room.read(profile),
      beyond === 'edge' ? 0 : 1,
      room.space(16 * (radius * MAX_STRETCH + 2)),
      room.write(out.data),
      out.rect.w,
      out.rect.h,
    ),
  )
}

/**
 * Linear light moved by a transform, with the cubic filter; by whole pixels it is copied.
 *
 * @param source    halves over `from`, [h, w, 3]
 * @param from      in the plate's pixels
 * @param transform takes a pixel of the plate to its place on the grid
 * @param to        the wanted rectangle of the grid
 * @returns halves over `to`, [h, w, 3]; HALF_NAN where `from` does not cover a pixel's place, and where a sample under the
 *   filter is not finite. Beyond `from`'s edge its edge samples are repeated: `sourceRect` tells how much to read.
 * @throws RangeError where the transform has no inverse
 */
export function warpHalves(
  source: Readonly<Uint16Array>,
  from: Rect,
  transform: Transform,
  to: Rect,
): Uint16Array {
  if (isWhole(transform)) return copyHalves(source, from, transform, to)
  const length = to.w * to.h * 3
  const out = new Uint16Array(length).fill(HALF_NAN)
  if (isEmpty(from) || isEmpty(to)) return out
  const workspace = new Workspace()
  try {
    workspace.within((scratch) => {
      const data = scratch.floats(source.length + 1)
      halvesToFloats(source as Uint16Array, data)
      const moved = scratch.floats(length)
      const options = { channels: 3, filter: CUBIC, beyond: 'nothing' } as const
      warpCopy(workspace, { rect: from, data }, transform, { rect: to, data: moved }, options)
      toHalves(moved, out)
    })
  } finally {
    workspace.close()
  }
  return out
}

/** Pixels to halves; one of which a sample is not finite is none. */
function toHalves(pixels: Readonly<Float32Array>, out: Uint16Array): void {
  const bits = new Uint32Array(pixels.buffer, pixels.byteOffset, pixels.length)
  for (let i = 0; i < pixels.length; i += 3) {
    const sum = pixels[i] + pixels[i + 1] + pixels[i + 2]
    if (sum - sum !== 0) out[i] = out[i + 1] = out[i + 2] = HALF_NAN
    else for (let c = i; c < i + 3; c++) out[c] = halfOf(bits[c])
  }
}

/** A filter's overshoot beside a highlight as bright as halves go is no infinity. */
function halfOf(bits: number): number {
  const half = bitsToHalf(bits)
  return (half & 0x7fff) === 0x7c00 ? half - 1 : half
}

function copyHalves(source: Readonly<Uint16Array>, from: Rect, transform: Transform, to: Rect): Uint16Array {
  const [dx, dy] = [transform[2], transform[5]]
  const out = new Uint16Array(to.w * to.h * 3).fill(HALF_NAN)
  const part = intersect({ ...from, x: from.x + dx, y: from.y + dy }, to)
  for (let y = part.y; y < part.y + part.h; y++) {
    const at = ((y - dy - from.y) * from.w + part.x - dx - from.x) * 3
    out.set(source.subarray(at, at + part.w * 3), ((y - to.y) * to.w + part.x - to.x) * 3)
  }
  // What is not finite is no light.
  for (let i = 0; i < out.length; i += 3)
    if (!isFiniteHalf(out[i]) || !isFiniteHalf(out[i + 1]) || !isFiniteHalf(out[i + 2]))
      out.fill(HALF_NAN, i, i + 3)
  return out
}

function isFiniteHalf(half: number): boolean {
  return (half & 0x7c00) !== 0x7c00
}
