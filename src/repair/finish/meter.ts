// Measures written frames in their order: the step at the border, and inside against the ring of the plate what changes from
// each frame to the next.
import { putChannel } from '../../kernels/channels.js'
import { ownCopy, type Scratch } from '../../kernels/workspace.js'
import { type Frame, frame } from '../../raster/frame.js'
import type { Rect } from '../../raster/rect.js'
import { movedBy, type Placed } from '../grain/laid-frames.js'
import type { GrainModel } from '../grain/model.js'
import { grainRound, type PlateGrain } from '../hide/plate-grain.js'
import type { RepairedFrame, RepairJob } from '../repair.js'
import { changeOf, lightOfRing, type SideChange, type SideLaw, sideLaw, UNCHANGED } from './change.js'
import type { PatchFinish } from './finish.js'
import { finishOf, type MeasuredFrame, type PairChange, type Unmeasured } from './measured.js'
import { besideOwn, type OwnReading, ownReading } from './own-frames.js'
import { addUp, CELL_PX, CellSums, INSIDE, RING, type Shown, sidesOf } from './pair.js'
import { type Place, type PlateFrame, placeOfBefore } from './plate-places.js'
import { bandOf, seamOf } from './seam.js'
import { changedOf, RING_SIDES, sidesRound } from './stray.js'
import { changeSpectrum, tilesOf } from './tiles.js'

/** A ring that changes by more than so many times grain's variance is laid on the frame before first: it may have moved. */
const MOVED = 1.5
/** One that was moved, and changes by more than this still, shows texture that does not lie on itself. */
const MISPLACED = 4
/** Beyond this no ring tells anything. */
const BEYOND_GRAIN = 16

type Kept = Pick<RepairedFrame, 'target' | 'repaired' | 'patch' | 'alpha' | 'mask' | 'detail'>

type Now = Shown & PlateFrame

/** Takes in frames one after the other, and keeps no more than the last of them. */
export class FinishMeter {
  readonly #frames: MeasuredFrame[] = []
  #before: Now | undefined
  readonly #laws: { readonly inside: SideLaw; readonly ring: SideLaw } | null
  readonly #sums: { readonly inside: CellSums; readonly ring: CellSums }
  readonly #sides: Uint8Array
  /** What is kept of a frame that lies in the workspace. */
  #room: Float32Array<ArrayBuffer> | undefined
  readonly #first: number

  static async over(job: RepairJob): Promise<FinishMeter> {
    const grain = await grainRound(job)
    const own = grain && (await ownReading(job, (of) => new FinishMeter(of, grain)))
    return new FinishMeter(job, grain, own)
  }

  /** @param grain null where it is unknown @param own what the plate's own frames come to; null: not known */
  constructor(
    readonly job: RepairJob,
    grain: PlateGrain | null,
    readonly own: OwnReading | null = null,
  ) {
    const { window } = job.region
    const cells = Math.ceil(window.w / CELL_PX) * Math.ceil(window.h / CELL_PX)
    this.#first = Math.min(...job.region.frames.keys())
    this.#sums = { inside: new CellSums(cells), ring: new CellSums(cells) }
    this.#sides = new Uint8Array(window.w * window.h)
    this.#laws = grain && {
      inside: lawIn(grain.within, window),
      ring: lawIn(grain.around, window),
    }
  }

  /** @param target its number @param made its patch and what is repaired may lie in the workspace, whose they are again afterwards */
  add(target: number, made: Kept): void {
    const { surround } = this.job.region.frames.get(target)!
    const { repaired, alpha } = made
    const shown = { frame: target, picture: made.target, repaired, alpha, surround }
    const change = this.#changeTo(shown)
    this.#before = { ...shown, repaired: this.#own(repaired) }
    this.#frames.push({ target, seam: this.#seam(made, surround), detail: made.detail ?? null, change })
  }

  /** All that were taken in, in their order. */
  get measured(): readonly MeasuredFrame[] {
    return this.#frames
  }

  /** What all that were taken in come to. */
  done(): PatchFinish {
    return finishOf(this.#frames)
  }

  #seam({ target, patch, mask }: Kept, surround: Float32Array): number | null {
    if (this.#laws === null) return null
    const band = bandOf(mask, surround, this.job.region.window.w)
    const { workspace, target: plate } = this.job
    return seamOf(workspace, { target, patch, band, clip: plate.clipLevel }, this.#laws.ring)
  }

  /** A picture that stays when what lies in the workspace goes. */
  #own(picture: Frame): Frame {
    const { data, shape } = picture
    if (!(data.buffer instanceof SharedArrayBuffer)) return picture
    this.#room = ownCopy(data, this.#room)
    return frame(shape[0], shape[1], 3, this.#room)
  }

  #changeTo(now: Now): PairChange | Unmeasured {
    const before = this.#before
    if (before === undefined || before.frame !== now.frame - 1) return 'apart'
    if (this.#laws === null) return 'unseen'
    return this.job.workspace.within((scratch) => {
      // In the workspace, so that no kernel copies them in.
      const one = laidIn(scratch, now)
      const two = laidIn(scratch, before, { laid: one, as: now })
      const still = { frame: before.frame, picture: two.repaired, response: null, dx: 0, dy: 0 }
      const found = this.#changeOf(one, two, still, 0, 0)
      if (typeof found === 'string') return found
      if (greatest(found.ring) <= MOVED) return this.#toldBy(found, one, still)
      const place = placeOfBefore(this.job, now, before)
      if (place === null) return 'moves'
      if (place.response === null)
        return greatest(found.ring) > BEYOND_GRAIN ? 'moves' : this.#toldBy(found, one, still)
      const placed = { ...place, frame: before.frame, picture: this.#move(scratch, two.repaired, place) }
      const moved = this.#changeOf(one, two, placed, Math.round(placed.dx), Math.round(placed.dy))
      if (typeof moved === 'string') return moved
      return greatest(moved.ring) > MISPLACED ? 'moves' : this.#toldBy(moved, one, placed)
    })
  }

  /** @returns a picture in the workspace */
  #move(scratch: Scratch, asRead: Frame, place: Place): Frame {
    const [height, width] = asRead.shape
    const picture = frame(height, width, 3, scratch.floats(asRead.data.length))
    const { workspace } = this.job
    movedBy(workspace, { ...place, asRead }, (channel, c) => putChannel(workspace, channel, c, picture.data))
    return picture
  }

  /** @param placed the frame before as it lies on this one, moved by about dx, dy pixels */
  #changeOf(now: Shown, before: Shown, placed: Placed, dx: number, dy: number): PairChange | Unmeasured {
    const { inside, ring } = this.#sums
    const { w } = this.job.region.window
    const { workspace, target } = this.job
    workspace.within((scratch) => {
      const sides = scratch.bytes(this.#sides.length)
      sidesOf(workspace, now, before, w, dx, dy, sides)
      addUp(workspace, now.repaired, placed.picture, sides, target.clipLevel, inside, ring)
      this.#sides.set(sides)
    })
    const laws = this.#laws!
    if ([...laws.inside.renewed, ...laws.ring.renewed].some((v) => !(v > UNCHANGED))) return 'grainless'
    const light = lightOfRing(ring)
    const [own, plate] = [changeOf(inside, laws.inside, light), changeOf(ring, laws.ring, light)]
    if (own === null || plate === null) return 'small'
    if (Math.min(...plate.noise) <= UNCHANGED) return 'held'
    const marks = sidesRound(inside, Math.ceil(w / CELL_PX))
    const sides = RING_SIDES.map((mark) => changeOf(ring, laws.ring, light, { marks, mark }))
    return {
      inside: besideOwn(own, this.own),
      ring: plate,
      sides: sides.map((side) => side && changedOf(side)),
      ownStray: this.own?.stray ?? null,
      spectra: null,
    }
  }

  /** With the spectra of a pair that tells. */
  #toldBy(change: PairChange, now: Now, placed: Placed): PairChange {
    const pair = [{ frame: now.frame, picture: now.repaired, response: null, dx: 0, dy: 0 }, placed] as const
    const { w } = this.job.region.window
    // Told by the frame alone, so that frames measured in several parts come to the same.
    const turn = now.frame - this.#first - 1
    const [patch, plate] = [tilesOf(this.#sides, w, INSIDE, turn), tilesOf(this.#sides, w, RING, turn)]
    if (patch.length === 0 || plate.length === 0) return change
    const { inside, ring } = this.#laws!
    const spectra = {
      inside: changeSpectrum(this.job.workspace, pair, patch, w, inside),
      ring: changeSpectrum(this.job.workspace, pair, plate, w, ring),
    }
    return { ...change, spectra }
  }
}

/** A frame as kernels take it. @param same laid already: masks that are the same are laid once */
function laidIn(
  scratch: Scratch,
  { frame: number, picture, repaired, alpha, surround }: Now,
  same?: { readonly laid: Now; readonly as: Now },
): Now {
  const [height, width] = repaired.shape
  const laid = frame(height, width, 3, scratch.laid(repaired.data))
  return {
    frame: number,
    picture,
    repaired: laid,
    alpha: same?.as.alpha === alpha ? same.laid.alpha : scratch.laid(alpha),
    surround: same?.as.surround === surround ? same.laid.surround : scratch.laid(surround),
  }
}

function greatest({ noise }: SideChange): number {
  return Math.max(...noise)
}

function lawIn(model: GrainModel, window: Rect): SideLaw {
  return sideLaw(model, model.where && placesIn(model.where, window))
}

/** Mean square per cell. */
function placesIn(where: Readonly<Float32Array>, { w, h }: Rect): Float32Array {
  const columns = Math.ceil(w / CELL_PX)
  const sum = new Float32Array(columns * Math.ceil(h / CELL_PX))
  const count = new Float32Array(sum.length)
  for (let y = 0, i = 0; y < h; y++)
    for (let x = 0; x < w; x++, i++) {
      const cell = Math.floor(y / CELL_PX) * columns + Math.floor(x / CELL_PX)
      sum[cell]! += where[i]! ** 2
      count[cell]!++
    }
  return sum.map((v, k) => v / count[k]!)
}
