// How strong the detail of donors is by themselves, before they are averaged and blurred by moving them: what a patch is to have.
import { addScaled } from '../../kernels/patch.js'
import type { Held, Workspace } from '../../kernels/workspace.js'
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
const MAX_LOST = 2

/** A donor, and what is made of it. */
export interface LaidDonor extends Pick<LentDonor, 'source' | 'rect' | 'onTarget' | 'picture'> {
  /** Linear-light factor of green. */
  readonly gain: number
  /** Of a mosaic, its piece's share of every pixel of the window; null where it lends all over. */
  readonly piece: Readonly<Float32Array> | null
}

/** Of donors that are kept, as many candidates and frames ask for it. */
const energies = new WeakMap<Frame, Readonly<Float32Array>>()

/** Of a donor's tiles: how many it has all of, their spectrum as it was shot, and how much of their detail moving it took. */
interface SeenDetail {
  readonly tiles: Readonly<Int32Array>
  readonly piece: Readonly<Float32Array> | null
  readonly count: number
  readonly spectrum: Readonly<Spectrum>
  /** A factor of variance, at least 1. */
  readonly lost: number
}

/** Of the tiles that were looked at last: a mask that stands has the same on all frames. */
const seenDetails = new WeakMap<Frame, SeenDetail>()

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

  /** @param tiles corners of tiles over the region, in `window` @param held lends what is answered */
  constructor(
    readonly workspace: Workspace,
    readonly window: Rect,
    readonly tiles: Readonly<Int32Array>,
    held: Held,
  ) {
    this.energy = held.zeros(window.w * window.h)
  }

  add(donor: LaidDonor): void {
    const { picture, gain, piece } = donor
    if (piece === null && this.#donors === WITNESSES) return
    const { energy, spectrum, workspace } = this
    const { count, spectrum: shot, lost } = this.#seenOf(donor)
    const square = gain * gain
    addScaled(workspace, energyOfDonor(workspace, picture), piece, square * lost, energy)
    for (let i = 0; i < spectrum.length; i++) spectrum[i]! += count * square * shot[i]!
    this.#tiles += count
    if (piece === null) this.#donors++
  }

  #seenOf(donor: LaidDonor): SeenDetail {
    const { tiles, window, workspace } = this
    const { source, picture, piece } = donor
    const known = seenDetails.get(picture)
    if (known?.tiles === tiles && known.piece === piece) return known
    const middle = MIDDLE * (window.w + 1)
    const lends = piece === null ? tiles : tiles.filter((corner) => piece[corner + middle]! > 0.5)
    const { mine, shot } = seenTiles(lends, window, donor)
    const before = detailSpectrum(workspace, source, shot)
    const after = picture === source ? before : detailSpectrum(workspace, picture, mine)
    const lost = Math.min(MAX_LOST, Math.max(1, detailIn(before) / Math.max(1e-12, detailIn(after))))
    const seen = { tiles, piece, count: mine.length, spectrum: before, lost }
    seenDetails.set(picture, seen)
    return seen
  }

  /** What all that were taken in come to, once: pieces lie beside each other, of other donors it is the mean. */
  done(): Pick<DonorsDetail, 'energy' | 'spectrum'> {
    const [donors, tiles] = [Math.max(1, this.#donors), Math.max(1, this.#tiles)]
    const { energy, spectrum } = this
    if (donors > 1) for (let i = 0; i < energy.length; i++) energy[i]! /= donors
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
