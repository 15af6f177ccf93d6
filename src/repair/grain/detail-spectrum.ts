// How strong a picture's detail is at each frequency over a region, and how much grain there is room for in it.
import { addChannelPower } from '../../kernels/tiles.js'
import type { Workspace } from '../../kernels/workspace.js'
import type { Frame } from '../../raster/frame.js'
import { hasHoles } from '../lend.js'
import type { Lacking } from './lacking.js'
import { type GrainModel, grainAt, type Spectrum, TILE_PX } from './model.js'
import { WINDOW } from './spectrum.js'

const FREQUENCIES = TILE_PX * TILE_PX
/** Green stands for all channels: it is most of the light. */
export const GREEN = 1
/** So many tiles tell. */
const MAX_TILES = 48

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

/** Power at each frequency that grain of unit strength has in green, of its components' spectra. */
export function greenPower({ mix }: Pick<GrainModel, 'mix'>, spectra: readonly Spectrum[]): Spectrum {
  const out = new Float64Array(FREQUENCIES)
  for (const [k, spectrum] of spectra.entries())
    for (let i = 0; i < FREQUENCIES; i++) out[i]! += mix[3 * GREEN + k]! ** 2 * spectrum[i]!
  return out
}

/** Variance of a spectrum's detail. */
export function detailIn(spectrum: Readonly<Spectrum>): number {
  return spectrum.reduce((sum, v, i) => sum + v * DETAIL[i]!, 0) / FREQUENCIES
}

/** Of a mask the same always. */
const covering = new WeakMap<Readonly<Float32Array>, Int32Array>()

/** Corners of tiles that cover a region, overlapping by half where there is room. @param inside not to be changed afterwards */
export function tilesOver(inside: Readonly<Float32Array>, width: number): Readonly<Int32Array> {
  const known = covering.get(inside)
  if (known !== undefined) return known
  const height = inside.length / width
  const found: number[] = []
  const step = TILE_PX / 2
  for (let top = 0; top + TILE_PX <= height; top += step)
    for (let left = 0; left + TILE_PX <= width; left += step) {
      const middle = (top + step) * width + left + step
      if (inside[middle]! > 0) found.push(top * width + left)
    }
  const every = Math.max(1, Math.ceil(found.length / MAX_TILES))
  const tiles = Int32Array.from(found.filter((_, i) => i % every === 0))
  covering.set(inside, tiles)
  return tiles
}

/** Those of which every pixel is there. */
export function wholeTiles(
  tiles: Readonly<Int32Array>,
  there: Readonly<Uint8Array>,
  width: number,
): Readonly<Int32Array> {
  if (!hasHoles(there)) return tiles
  return tiles.filter((corner) => {
    for (let y = 0; y < TILE_PX; y++)
      for (let x = 0, i = corner + y * width; x < TILE_PX; x++, i++) if (there[i] !== 1) return false
    return true
  })
}

/** Mean power of green's detail at each frequency over tiles of a picture, linear light squared. */
export function detailSpectrum(
  workspace: Workspace,
  { data, shape: [, width] }: Frame,
  corners: Readonly<Int32Array>,
): Spectrum {
  const out = new Float64Array(FREQUENCIES)
  if (corners.length === 0) return out
  addChannelPower(workspace, data, GREEN, { corners, width }, WINDOW, out)
  for (let i = 0; i < FREQUENCIES; i++) out[i]! /= corners.length
  return out
}

/**
 * What is lacking, as far as there is room for it: at each frequency the detail of lent pixels and lasting grain together is to
 * be no stronger than the donors had it by themselves. What changes from frame to frame is left whole: grain that stands still
 * is seen first.
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
): Lacking {
  const unit = grainAt(model, GREEN, light) ** 2
  const [greenChange, greenAbsent] = [greenPower(model, lacking.change), greenPower(model, lacking.absent)]
  const { carried } = lacking
  const change = lacking.change.map((s) => s.slice())
  const absent = lacking.absent.map((s) => s.slice())
  for (let i = 0; i < FREQUENCIES; i++) {
    const [wanted, lost] = [unit * greenChange[i]!, unit * greenAbsent[i]!]
    const room = Math.min(whole[i]! - own[i]!, Math.max(lost, wanted))
    const lasts = carried > 0 ? Math.min(lost, Math.max(0, room - wanted) / carried) : 0
    const made = Math.max(0, wanted - (1 - carried) * lasts)
    for (let k = 0; k < 3; k++) {
      change[k]![i]! *= wanted > 0 ? made / wanted : 0
      absent[k]![i]! *= lost > 0 ? lasts / lost : 0
    }
  }
  return { change, absent, carried }
}
