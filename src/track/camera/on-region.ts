// Poses refined where it matters: on a wide ring round the region, in the plate's own pixels. What stands nearer or further
// than the rest of the frame moves otherwise under a camera that is carried; the region's own surroundings move as it does.
import type { Plate } from '../../footage/plate.js'
import { halve } from '../../kernels/pyramid.js'
import type { Workspace } from '../../kernels/workspace.js'
import { isAtRest } from '../../match/at-rest.js'
import { halfBits } from '../../match/half-bits.js'
import { logLuminance, VALID } from '../../match/log-luminance.js'
import { agreementAt, layPlanar } from '../../match/planar.js'
import {
  type PlanarDonor,
  type PlanarReference,
  planarDonor,
  preparePlanar,
} from '../../match/planar-picture.js'
import { evenly, indicesOf } from '../../match/subsample.js'
import { noiseSigma } from '../../match/texture.js'
import type { Plane } from '../../raster/plane.js'
import type { Rect } from '../../raster/rect.js'
import { apply, compose, IDENTITY, invert, scaledToOne, type Transform } from '../../raster/transform.js'
import { keptHalves } from '../read-frames.js'
import { readRectFor } from '../read-rect-for.js'
import { MIN_SAME } from './follow.js'

/**
 * How far round the window the camera is followed, pixels. Of two layers that move apart a wider ring holds more of the other:
 * with 64 poses were 0.46, 0.68 and 0.34 px off on planted ones, with 32 0.18, 0.54 and 0.27, with 12 0.24, 0.18 and 0.24.
 */
export const RING_PX = 16
/** What lies so far beyond the window counts half: the nearer, the likelier it stands as far from the camera. */
const NEAR_PX = 16
/** Room beyond what a rough pose says is needed, pixels: rough poses are off by so much at most. */
const ROOM_PX = 24
/** Of the window a frame must show at least this share to lend any of it. */
const MIN_SEEN = 0.1
/** Places of the ring at which unmoved frames are compared with the reference frame, at most. */
const MAX_PLACES = 2000
/** The ring's pose may lie this far from the whole frame's, pixels: what is nearer or further moves otherwise. */
const MAX_APART_PX = 40

/** Share of a rectangle of the grid that a frame shows. */
export function shareSeen(plate: Plate, pose: Transform, grid: Rect): number {
  const back = invert(pose)
  const { x, y, w, h } = plate.active
  const steps = 10
  let seen = 0
  for (let v = 0; v < steps; v++)
    for (let u = 0; u < steps; u++) {
      const p = apply(back, grid.x + ((u + 0.5) / steps) * grid.w, grid.y + ((v + 0.5) / steps) * grid.h)
      if (p.x >= x && p.y >= y && p.x <= x + w - 1 && p.y <= y + h - 1) seen++
    }
  return seen / (steps * steps)
}

export interface Rough {
  readonly frame: number
  readonly pose: Transform
}

interface Refined extends Rough {
  /** RMS error of places to be expected in the window, pixels. */
  readonly sigma: number
  readonly ncc: number
}

export interface OnRegion {
  readonly frame: number
  /** How well the rough pose alone agrees there; null where it can't be told. */
  readonly roughNcc: number | null
  /** Null where the ring does not hold it. */
  readonly refined: Refined | null
}

/** A frame's picture, and where its rough pose lays it. */
interface LaidRoughly {
  readonly reference: PlanarReference
  readonly donor: PlanarDonor
  readonly start: Transform
  readonly toPlate: Transform
  readonly roughNcc: number
}

export class RegionFollower {
  readonly #reference: PlanarReference | null
  readonly #light: Plane
  /** Of it, at which unmoved frames are compared with it. */
  readonly #places: Int32Array
  /** Noise of a frame and the reference frame, stops. */
  readonly #grain: number

  /**
   * @param halves  the reference frame, linear RGB over `core`
   * @param counts  1 on what of it may be followed, over `core`
   * @param window  of the grid: where places must be right
   */
  constructor(
    readonly workspace: Workspace,
    halves: Readonly<Uint16Array>,
    readonly core: Rect,
    counts: Readonly<Uint8Array>,
    readonly window: Rect,
    clip: number,
  ) {
    const seen = logLuminance(workspace, halves, core, clip)
    const weight = Float32Array.from(counts, (c, i) => {
      if (c !== 1 || seen.validity[i] !== VALID) return 0
      const [x, y] = [core.x + (i % core.w), core.y + Math.floor(i / core.w)]
      const beyond = Math.max(
        window.x - x,
        x - window.x - window.w + 1,
        window.y - y,
        y - window.y - window.h + 1,
        0,
      )
      return NEAR_PX / (NEAR_PX + beyond)
    })
    this.#reference = preparePlanar(workspace, seen.log, weight)
    this.#light = seen.log
    this.#places = evenly(indicesOf(weight), MAX_PLACES)
    this.#grain = Math.SQRT2 * (noiseSigma(workspace, seen.log.data, core.w, weight) ?? 0)
  }

  /** Refines rough poses of a plate's frames, as they are read. @throws whatever reading throws */
  async *refine(plate: Plate, rough: readonly Rough[]): AsyncGenerator<OnRegion> {
    for await (const { one, laid } of this.#laid(plate, rough))
      yield laid === null ? { frame: one.frame, roughNcc: null, refined: null } : this.#refined(one, laid)
  }

  /** How well rough poses alone agree there: nothing is refined. @throws whatever reading throws */
  async *agreement(
    plate: Plate,
    rough: readonly Rough[],
  ): AsyncGenerator<Pick<OnRegion, 'frame' | 'roughNcc'>> {
    for await (const { one, laid } of this.#laid(plate, rough))
      yield { frame: one.frame, roughNcc: laid?.roughNcc ?? null }
  }

  /** Which frames show there, unmoved, what the reference frame does but for grain and light. @throws whatever reading throws */
  async *atRest(plate: Plate, frames: readonly number[]): AsyncGenerator<number> {
    const rect = plate.streamed ? plate.active : readRectFor(plate, IDENTITY, this.core, ROOM_PX)
    for await (const { frame, picture } of keptHalves(plate, frames, rect)) {
      if (picture === undefined) continue
      const seen = logLuminance(this.workspace, picture, rect, plate.clipLevel)
      if (isAtRest(this.#light, this.#places, seen, this.#grain)) yield frame
    }
  }

  /** Frames as their rough poses lay them; null where nothing is seen. */
  async *#laid(
    plate: Plate,
    rough: readonly Rough[],
  ): AsyncGenerator<{ readonly one: Rough; readonly laid: LaidRoughly | null }> {
    const groups = new Map<string, { rect: Rect; some: Rough[] }>()
    for (const one of rough) {
      if (shareSeen(plate, one.pose, this.window) < MIN_SEEN) {
        yield { one, laid: null }
        continue
      }
      const rect = plate.streamed ? plate.active : readRectFor(plate, one.pose, this.core, ROOM_PX)
      const key = `${rect.x} ${rect.y} ${rect.w} ${rect.h}`
      const group = groups.get(key) ?? { rect, some: [] }
      groups.set(key, group)
      group.some.push(one)
    }
    for (const { rect, some } of groups.values()) {
      const byFrame = new Map(some.map((one) => [one.frame, one]))
      for await (const { frame, picture } of keptHalves(plate, [...byFrame.keys()], rect)) {
        const one = byFrame.get(frame)!
        const laid = picture === undefined ? null : this.#lay(one.pose, picture, rect, plate.clipLevel)
        yield { one, laid }
      }
    }
  }

  #lay(pose: Transform, halves: Readonly<Uint16Array>, rect: Rect, clip: number): LaidRoughly | null {
    if (this.#reference === null) return null
    const { log, validity } = logLuminance(this.workspace, halves, rect, clip)
    let picture: Plane = log
    let known: Uint8Array = validity.map((v) => (v === VALID ? 1 : 0))
    let toPlate: Transform = IDENTITY
    // Of a take with more pixels to the same thing, as many as the reference has.
    for (let size = sizeOf(pose, rect); size < 0.7 && picture.width > 64; size *= 2) {
      known = halfBits(known, picture.width, picture.height)
      toPlate = compose(toPlate, [2, 0, picture.x + 0.5, 0, 2, picture.y + 0.5, 0, 0, 1])
      picture = { ...halve(this.workspace, { ...picture, x: 0, y: 0 }), x: 0, y: 0 }
    }
    const start = compose(pose, toPlate)
    const donor = planarDonor(this.workspace, picture, known, this.#reference.knee)
    const { ncc: roughNcc } = agreementAt(this.#reference, donor, start)
    return { reference: this.#reference, donor, start, toPlate, roughNcc }
  }

  #refined({ frame, pose }: Rough, { reference, donor, start, toPlate, roughNcc }: LaidRoughly): OnRegion {
    const near = layPlanar(reference, donor, start, 'similarity')
    const laid = near && layPlanar(reference, donor, near.transform, 'homography', { coarsest: 0 })
    if (laid === null || laid.ncc < MIN_SAME) return { frame, roughNcc, refined: null }
    const found = scaledToOne(compose(laid.transform, invert(toPlate)))
    const refined = { frame, pose: found, sigma: laid.sigmaOver(this.window), ncc: laid.ncc }
    return { frame, roughNcc, refined: apartOver(found, pose, this.window) > MAX_APART_PX ? null : refined }
  }
}

/** The most that two poses differ by over a rectangle of the grid, pixels. */
export function apartOver(a: Transform, b: Transform, { x, y, w, h }: Rect): number {
  const back = invert(b)
  let most = 0
  for (const [u, v] of [
    [x, y],
    [x + w, y],
    [x, y + h],
    [x + w, y + h],
  ]) {
    const from = apply(back, u, v)
    const to = apply(a, from.x, from.y)
    most = Math.max(most, Math.hypot(to.x - u, to.y - v))
  }
  return most
}

/** Grid pixels to a pixel of the plate, about the middle of what is read. */
function sizeOf(pose: Transform, { x, y, w, h }: Rect): number {
  const [cx, cy] = [x + w / 2, y + h / 2]
  const [a, b, c] = [apply(pose, cx, cy), apply(pose, cx + 1, cy), apply(pose, cx, cy + 1)]
  return Math.sqrt(Math.abs((b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x)))
}
