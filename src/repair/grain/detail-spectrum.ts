// How strong a picture's detail is at each frequency over a region, and the filter that makes room in it for grain.
import type { Frame } from '../../raster/frame.js'
import type { Lacking } from './lacking.js'
import { type GrainModel, grainAt, type Spectrum, TILE_PX } from './model.js'
import { type NoiseFilter, TileTransform } from './spectrum.js'

const FREQUENCIES = TILE_PX * TILE_PX
/** Green stands for all channels: it is most of the light. */
const GREEN = 1
/** So many tiles tell. */
const MAX_TILES = 48
/** Waves as long as this and longer are the picture's own: a tile tells them badly, and grain has little of them. */
const LONGEST_PX = 8
/** A filter that changes no frequency by more than this is left out. */
const UNCHANGED = 0.02

/** Detail is what differs from the mean of so many pixels either way. */
export const DETAIL_PX = 2
/** What taking out that mean leaves of power at each frequency. */
const DETAIL = detailResponse()

function detailResponse(): Float64Array {
  const side = 2 * DETAIL_PX + 1
  const line = Float64Array.from({ length: TILE_PX }, (_, u) => {
    let sum = 1
    for (let k = 1; k <= DETAIL_PX; k++) sum += 2 * Math.cos((2 * Math.PI * u * k) / TILE_PX)
    return sum / side
  })
  return Float64Array.from({ length: FREQUENCIES }, (_, i) => {
    return (1 - line[Math.floor(i / TILE_PX)]! * line[i % TILE_PX]!) ** 2
  })
}

/** Variance of a spectrum's detail. */
export function detailIn(spectrum: Readonly<Spectrum>): number {
  return spectrum.reduce((sum, v, i) => sum + v * DETAIL[i]!, 0) / FREQUENCIES
}

/** Corners of tiles that cover a region, overlapping by half where there is room. */
export function tilesOver(inside: Readonly<Float32Array>, width: number): Int32Array {
  const height = inside.length / width
  const found: number[] = []
  const step = TILE_PX / 2
  for (let top = 0; top + TILE_PX <= height; top += step)
    for (let left = 0; left + TILE_PX <= width; left += step) {
      const middle = (top + step) * width + left + step
      if (inside[middle]! > 0) found.push(top * width + left)
    }
  const every = Math.max(1, Math.ceil(found.length / MAX_TILES))
  return Int32Array.from(found.filter((_, i) => i % every === 0))
}

/** Mean power of green's detail at each frequency over tiles of a picture, linear light squared. */
export function detailSpectrum({ data, shape: [, width] }: Frame, corners: Readonly<Int32Array>): Spectrum {
  const out = new Float64Array(FREQUENCIES)
  const tile = new Float64Array(FREQUENCIES)
  const transform = new TileTransform()
  for (const corner of corners) {
    let sum = 0
    for (let y = 0, i = 0; y < TILE_PX; y++)
      for (let x = 0; x < TILE_PX; x++, i++) {
        tile[i] = data[3 * (corner + y * width + x) + GREEN]!
        sum += tile[i]!
      }
    for (let i = 0; i < FREQUENCIES; i++) tile[i]! -= sum / FREQUENCIES
    transform.addPower(tile, 1 / corners.length, out)
  }
  return out
}

/** What is lacking, as far as there is room for it, and what makes that room. */
export interface Roomed extends Lacking {
  /** A filter of the lent pixels; null where they stay as they are. */
  readonly makesRoom: NoiseFilter | null
}

/**
 * At each frequency the detail of lent pixels and grain together is to be as strong as the donors had it. Where it would be
 * more, the lent pixels give way, since grain that moves is seen and detail that lacks a little is not: a Wiener filter
 * (N. Wiener, 1949) whose noise is what is put in, not what is found.
 *
 * @param whole of the donors by themselves
 * @param own   of the lent pixels
 * @param light mean linear light of green over the region
 */
export function roomFor(
  lacking: Lacking,
  model: GrainModel,
  whole: Readonly<Spectrum>,
  own: Readonly<Spectrum>,
  light: number,
): Roomed {
  const unit = grainAt(model, GREEN, light) ** 2
  const green = (spectra: readonly Spectrum[], i: number) => {
    let sum = 0
    for (let k = 0; k < 3; k++) sum += model.mix[3 * GREEN + k]! ** 2 * spectra[k]![i]!
    return unit * sum
  }
  const { carried } = lacking
  const change = lacking.change.map((s) => s.slice())
  const absent = lacking.absent.map((s) => s.slice())
  const response = new Float64Array(FREQUENCIES).fill(1)
  let isChanged = false
  for (let i = 0; i < FREQUENCIES; i++) {
    const [wanted, lost] = [green(change, i), green(absent, i)]
    const [all, has] = [whole[i]!, own[i]!]
    let [made, lasts] = [wanted, 0]
    if (has + wanted >= all) {
      made = Math.min(wanted, all)
      if (!isLong(i) && has > 0 && made > 0) {
        response[i] = Math.min(1, (all - made) / has)
        if (response[i]! < (1 - UNCHANGED) ** 2) isChanged = true
      }
    } else {
      const room = Math.min(all - has, Math.max(lost, wanted))
      lasts = carried > 0 ? Math.min(lost, (room - wanted) / carried) : 0
      made = Math.max(0, wanted - (1 - carried) * lasts)
    }
    for (let k = 0; k < 3; k++) {
      change[k]![i]! *= wanted > 0 ? made / wanted : 0
      absent[k]![i]! *= lost > 0 ? Math.max(0, lasts) / lost : 0
    }
  }
  return {
    change,
    absent,
    carried,
    makesRoom: isChanged ? new TileTransform().filterOf(response, 'sum') : null,
  }
}

function isLong(i: number): boolean {
  const along = (k: number) => Math.min(k, TILE_PX - k)
  return Math.hypot(along(i % TILE_PX), along(Math.floor(i / TILE_PX))) <= TILE_PX / LONGEST_PX
}

/** Filters a picture where `share` is not 0, in place; beyond its edge it goes on level. */
export function filterDetail(
  { data, shape: [height, width] }: Frame,
  { radius, weights }: NoiseFilter,
  share: Readonly<Float32Array>,
): void {
  const plane = new Float32Array(width * height)
  const side = 2 * radius + 1
  const within = (v: number, n: number) => Math.min(n - 1, Math.max(0, v))
  for (let c = 0; c < 3; c++) {
    for (let i = 0; i < plane.length; i++) plane[i] = data[3 * i + c]!
    for (let y = 0, i = 0; y < height; y++)
      for (let x = 0; x < width; x++, i++) {
        if (share[i] === 0) continue
        let sum = 0
        for (let v = 0, w = 0; v < side; v++) {
          const row = within(y + v - radius, height) * width
          for (let u = 0; u < side; u++, w++) sum += weights[w]! * plane[row + within(x + u - radius, width)]!
        }
        data[3 * i + c] = plane[i]! + share[i]! * (sum - plane[i]!)
      }
  }
}
