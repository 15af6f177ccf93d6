// How strong the detail of donors is by themselves, before they are averaged and blurred by moving them: what a patch is to have.
import { addScaled } from '../../kernels/patch.js'
import type { Workspace } from '../../kernels/workspace.js'
import type { Frame } from '../../raster/frame.js'
import type { Rect } from '../../raster/rect.js'
import { apply, invert } from '../../raster/transform.js'
import { detailIn, detailSpectrum, GREEN } from '../grain/detail-spectrum.js'
import { detailEnergy } from '../grain/fit.js'
import { type Spectrum, TILE_PX } from '../grain/model.js'
import type { LentDonor } from './lent-donors.js'

/** Of a stack so many donors tell: the first lend most. */
const WITNESSES = 3
/** Of a tile, right and down from its corner. */
const MIDDLE = TILE_PX / 2
/** Moving a donor takes at most so much of its detail: more is another part of the picture. */
const MOST_LOST = 2

/** A donor, and what is made of it. */
export interface LaidDonor extends Pick<LentDonor, 'source' | 'rect' | 'onTarget' | 'picture'> {
  /** Linear-light factor of green. */
  readonly gain: number
  /** Of a mosaic, its piece's share of every pixel of the window; null where it lends all over. */
  readonly piece: Readonly<Float32Array> | null
}

/** Of donors that are kept, as many candidates and frames ask for it. */
const energies = new WeakMap<Frame, Readonly<Float32Array>>()

function energyOfDonor(workspace: Workspace, picture: Frame): Readonly<Float32Array> {
  const energy = energies.get(picture) ?? detailEnergy(workspace, picture)
  energies.set(picture, energy)
  return energy
}

/** Takes in donors one after the other. */
export class DonorsDetail {
  /** Per pixel of the window, as `detailEnergy` has it. */
  readonly energy: Float32Array
  /** At each frequency, the mean over the region. */
  readonly spectrum: Spectrum = new Float64Array(TILE_PX * TILE_PX)
  #donors = 0
  #tiles = 0

  /** @param tiles corners of tiles over the region, in `window` */
  constructor(
    readonly workspace: Workspace,
    readonly window: Rect,
    readonly tiles: Readonly<Int32Array>,
  ) {
    this.energy = new Float32Array(window.w * window.h)
  }

  add({ source, rect, onTarget, picture, gain, piece }: LaidDonor): void {
    if (piece === null && this.#donors === WITNESSES) return
    const { tiles, window, energy, spectrum } = this
    const middle = MIDDLE * (window.w + 1)
    const lends = piece === null ? tiles : tiles.filter((corner) => piece[corner + middle]! > 0.5)
    const { mine, shot } = seenTiles(lends, window, { source, rect, onTarget })
    const before = detailSpectrum(source, shot)
    const after = detailSpectrum(picture, mine)
    const lost = Math.min(MOST_LOST, Math.max(1, detailIn(before) / Math.max(1e-12, detailIn(after))))
    const own = energyOfDonor(this.workspace, picture)
    const square = gain * gain
    addScaled(this.workspace, own, piece, square * lost, energy)
    for (let i = 0; i < spectrum.length; i++) spectrum[i]! += mine.length * square * before[i]!
    this.#tiles += mine.length
    if (piece === null) this.#donors++
  }

  /** What all that were taken in come to, once: pieces lie beside each other, of other donors it is the mean. */
  done(): Pick<DonorsDetail, 'energy' | 'spectrum'> {
    const [donors, tiles] = [Math.max(1, this.#donors), Math.max(1, this.#tiles)]
    const { energy, spectrum } = this
    for (let i = 0; i < energy.length; i++) energy[i]! /= donors
    return { energy, spectrum: spectrum.map((v) => v / tiles) }
  }
}

/** Tiles that a source has all of: corners in the window, and where it has them, to whole pixels. */
function seenTiles(
  tiles: Readonly<Int32Array>,
  window: Rect,
  { source, rect, onTarget }: Pick<LaidDonor, 'source' | 'rect' | 'onTarget'>,
): { readonly mine: Int32Array; readonly shot: Int32Array } {
  const back = invert(onTarget)
  const [mine, shot]: [number[], number[]] = [[], []]
  for (const corner of tiles) {
    const x = window.x + (corner % window.w) + MIDDLE
    const y = window.y + Math.floor(corner / window.w) + MIDDLE
    const from = apply(back, x, y)
    const [left, top] = [Math.round(from.x) - MIDDLE - rect.x, Math.round(from.y) - MIDDLE - rect.y]
    if (!(left >= 0 && top >= 0 && left + TILE_PX <= rect.w && top + TILE_PX <= rect.h)) continue
    // One sample that is no number would be at every frequency.
    if (!isWhole(source, top * rect.w + left)) continue
    mine.push(corner)
    shot.push(top * rect.w + left)
  }
  return { mine: Int32Array.from(mine), shot: Int32Array.from(shot) }
}

function isWhole({ data, shape: [, width] }: Frame, corner: number): boolean {
  for (let y = 0; y < TILE_PX; y++)
    for (let x = 0, i = 3 * (corner + y * width) + GREEN; x < TILE_PX; x++, i += 3)
      if (!Number.isFinite(data[i]!)) return false
  return true
}
