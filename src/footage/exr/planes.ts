// From the samples of decoded chunks to a float RGB picture: gathering planes, filling subsampled ones in, and luminance
// with colour differences to RGB. Source: openexr.com, "Technical Introduction", Luminance/Chroma Images.
import { codecs, wordsIn } from '../../kernels/codecs.js'
import { interleave } from '../../kernels/interleave.js'
import type { Frame } from '../../raster/frame.js'
import { HALF_VALUES } from '../../raster/half.js'
import { intersect, isEmpty, type Rect } from '../../raster/rect.js'
import type { Block, BlockShape } from './blocks.js'
import { samplesWithin } from './blocks.js'
import type { Samples } from './decode.js'
import type { Channel } from './header.js'

/** Samples of one channel. `left` and `top` count samples: pixel coordinates divided by the sampling. */
export interface SamplePlane {
  readonly channel: Channel
  readonly left: number
  readonly top: number
  readonly columns: number
  readonly rows: number
  readonly data: Float32Array
  /** Where in `data` the first sample lies, and how far it is to the next one and to the next row. */
  readonly start: number
  readonly step: number
  readonly pitch: number
}

/** An empty plane for the samples of a channel within a rectangle of the data window. */
export function planeFor(channel: Channel, { x, y, w, h }: Rect): SamplePlane {
  const columns = samplesWithin(x, w, channel.xSampling)
  const rows = samplesWithin(y, h, channel.ySampling)
  const left = Math.ceil(x / channel.xSampling)
  const top = Math.ceil(y / channel.ySampling)
  const data = new Float32Array(columns * rows)
  return { channel, left, top, columns, rows, data, start: 0, step: 1, pitch: columns }
}

/**
 * Planes of three channels with a sample per pixel that lie in the picture itself, so that nothing is left to be done when
 * they are filled.
 *
 * @param covered what there is of `wanted` in the data window, in the same coordinates
 * @param data    [wanted.h, wanted.w, 3]
 */
export function planesIn(
  data: Float32Array,
  channels: readonly Channel[],
  wanted: Rect,
  { x, y, w, h }: Rect,
): SamplePlane[] {
  const start = ((y - wanted.y) * wanted.w + x - wanted.x) * 3
  const lie = { left: x, top: y, columns: w, rows: h, data, step: 3, pitch: 3 * wanted.w }
  return channels.map((channel, c) => ({ channel, ...lie, start: start + c }))
}

/**
 * Copies what a chunk has of a plane.
 *
 * @param index the channel's place in the part's list
 */
export function gather(
  plane: SamplePlane,
  index: number,
  block: Block,
  shape: BlockShape,
  samples: Samples,
): void {
  const { columns, rows, bytes, type, xSampling, ySampling } = shape.channels[index]!
  const left = Math.ceil(block.x / xSampling)
  const top = Math.ceil(block.y / ySampling)
  const shared = intersect(
    { x: left, y: top, w: columns, h: rows },
    { x: plane.left, y: plane.top, w: plane.columns, h: plane.rows },
  )
  if (isEmpty(shared)) return
  const { data, start, step, pitch } = plane
  const { bytes: source, rows: starts } = samples
  const whole = new DataView(source.buffer, source.byteOffset, source.byteLength)
  // Words where they lie at even places, as almost always; only those are worth their own loop.
  const words = type === 'half' && (source.byteOffset & 1) === 0 ? wordsIn(source) : null
  for (let y = shared.y; y < shared.y + shared.h; y++) {
    const from = starts[index]![y - top]! + (shared.x - left) * bytes
    const to = start + (y - plane.top) * pitch + (shared.x - plane.left) * step
    const end = to + shared.w * step
    copyFloats(whole, words, type, from, data, to, end, step)
  }
}

/**
 * Copies what a chunk has of a picture of halves, which has a sample per pixel in three channels, as they are stored.
 *
 * @param data    [wanted.h, wanted.w, 3]
 * @param covered what there is of `wanted` in the data window, in the same coordinates
 * @param indices the places of red, green and blue in the part's list
 */
export function gatherHalves(
  data: Uint16Array,
  wanted: Rect,
  covered: Rect,
  indices: readonly number[],
  block: Block,
  { bytes, rows }: Samples,
): void {
  const { x, y, w, h } = intersect(block, covered)
  if (w <= 0 || h <= 0) return
  const row = y - block.y
  const starts = rows[indices[0]!]!
  const pitch = h > 1 ? starts[1]! - starts[0]! : 0
  const planes = indices.map((c) => {
    const from = rows[c]![row]! + 2 * (x - block.x)
    return bytes.subarray(from, from + (h - 1) * pitch + 2 * w)
  })
  const start = 3 * ((y - wanted.y) * wanted.w + x - wanted.x)
  if (w === wanted.w) {
    interleave(codecs(), planes, pitch, w, h, data.subarray(start, start + 3 * w * h))
    return
  }
  codecs().within((scratch) => {
    const pixels = wordsIn(scratch.bytes(6 * w * h))
    interleave(codecs(), planes, pitch, w, h, pixels)
    for (let r = 0; r < h; r++)
      data.set(pixels.subarray(3 * w * r, 3 * w * (r + 1)), start + 3 * wanted.w * r)
  })
}

function copyFloats(
  source: DataView,
  words: Uint16Array | null,
  type: Channel['type'],
  from: number,
  data: Float32Array,
  to: number,
  end: number,
  step: number,
): void {
  if (words !== null) {
    for (let t = to, f = from >> 1; t < end; t += step, f++) data[t] = HALF_VALUES[words[f]!]!
  } else if (type === 'half') {
    for (let t = to, f = from; t < end; t += step, f += 2) data[t] = HALF_VALUES[source.getUint16(f, true)]!
  } else if (type === 'float') {
    for (let t = to, f = from; t < end; t += step, f += 4) data[t] = source.getFloat32(f, true)
  } else {
    // by its number, as OpenEXR itself turns unsigned integers into floats
    for (let t = to, f = from; t < end; t += step, f += 4) data[t] = source.getUint32(f, true)
  }
}

/** How far beyond a rectangle samples are needed to fill a subsampled channel in, pixels. */
export function marginOf(channels: readonly Channel[]): number {
  return Math.max(...channels.map((c) => Math.max(c.xSampling, c.ySampling))) - 1
}

/**
 * RGB of the part of `wanted` that the planes cover, put into `out`, [wanted.h, wanted.w, 3], which stays elsewhere.
 *
 * @param covered what there is of `wanted` in the data window, in the same coordinates
 * @param weights of red, green and blue in luminance; only for luminance with colour differences
 */
export function toRgb(
  planes: readonly SamplePlane[],
  wanted: Rect,
  covered: Rect,
  weights: readonly [number, number, number] | null,
  out: Frame,
): Frame {
  if (isEmpty(covered)) return out
  const full = planes.map((plane) => fill(plane, covered))
  for (let y = 0, i = 0; y < covered.h; y++) {
    let to = ((covered.y - wanted.y + y) * wanted.w + covered.x - wanted.x) * 3
    for (let x = 0; x < covered.w; x++, i++, to += 3) {
      if (weights !== null) {
        chromaToRgb(full[0]![i]!, full[1]![i]!, full[2]![i]!, weights, out.data, to)
        continue
      }
      for (let c = 0; c < 3; c++) out.data[to + c] = full[full.length === 1 ? 0 : c]![i]!
    }
  }
  return out
}

/** One sample per pixel: as it is, or between the samples by straight lines. */
function fill(plane: SamplePlane, { x, y, w, h }: Rect): Float32Array {
  const { channel, left, top, columns, rows, data } = plane
  const { xSampling, ySampling } = channel
  if (xSampling === 1 && ySampling === 1 && left === x && top === y && columns === w && rows === h)
    return data
  const out = new Float32Array(w * h)
  for (let py = 0, i = 0; py < h; py++) {
    const v = (y + py) / ySampling - top
    const y0 = clamp(Math.floor(v), rows)
    const y1 = clamp(Math.floor(v) + 1, rows)
    const down = v - Math.floor(v)
    for (let px = 0; px < w; px++, i++) {
      const u = (x + px) / xSampling - left
      const x0 = clamp(Math.floor(u), columns)
      const x1 = clamp(Math.floor(u) + 1, columns)
      const right = u - Math.floor(u)
      // no product with a weight of 0, which would let NaN of a neighbour in
      const upper = mix(data[y0 * columns + x0]!, data[y0 * columns + x1]!, right)
      out[i] =
        down === 0 ? upper : mix(upper, mix(data[y1 * columns + x0]!, data[y1 * columns + x1]!, right), down)
    }
  }
  return out
}

function mix(a: number, b: number, share: number): number {
  return share === 0 ? a : a + (b - a) * share
}

function clamp(i: number, length: number): number {
  return i < 0 ? 0 : i >= length ? length - 1 : i
}

/** RY = (R - Y) / Y and BY = (B - Y) / Y; green is what luminance leaves. */
function chromaToRgb(
  y: number,
  ry: number,
  by: number,
  [wr, wg, wb]: readonly [number, number, number],
  out: Float32Array,
  to: number,
): void {
  const r = (ry + 1) * y
  const b = (by + 1) * y
  out[to] = r
  out[to + 1] = (y - r * wr - b * wb) / wg
  out[to + 2] = b
}

/**
 * Weights of red, green and blue in luminance for these primaries, adding up to 1.
 *
 * @param xy of red, green, blue and white
 * Source: SMPTE RP 177-1993, the middle row of the matrix from RGB to XYZ.
 */
export function luminanceWeights(xy: readonly number[]): readonly [number, number, number] {
  const xyz = (i: number): [number, number, number] => [
    xy[2 * i]!,
    xy[2 * i + 1]!,
    1 - xy[2 * i]! - xy[2 * i + 1]!,
  ]
  const [r, g, b, white] = [xyz(0), xyz(1), xyz(2), xyz(3)] as const
  const w = white.map((v) => v / white[1]) as [number, number, number]
  const det = (p: readonly number[], q: readonly number[], s: readonly number[]): number =>
    p[0]! * (q[1]! * s[2]! - q[2]! * s[1]!) -
    q[0]! * (p[1]! * s[2]! - p[2]! * s[1]!) +
    s[0]! * (p[1]! * q[2]! - p[2]! * q[1]!)
  const all = det(r, g, b)
  return [(r[1] * det(w, g, b)) / all, (g[1] * det(r, w, b)) / all, (b[1] * det(r, g, w)) / all]
}
