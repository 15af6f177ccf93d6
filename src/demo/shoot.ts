// The set in front of the camera: every frame of the plate in linear light, with or without what happens on it.
import { paintBackground } from './background.js'
import { sample, type Take, takeAt, throughLens, vignette, type Window } from './camera.js'
import type { Canvas, Matte } from './canvas.js'
import { Crowd } from './crowd.js'
import { drawMarketPeople } from './market.js'
import { MOMENT_STOPS, type MomentName, momentExtent, momentShare } from './moments.js'
import { drawQuayPeople } from './porter.js'
import { STAGE_HEIGHT, STAGE_WIDTH, WALL } from './stage.js'
import { timeOf } from './story.js'
import type { LeftOut, Scene } from './truth.js'
import { Water } from './water.js'

/** How long the shutter is open, as a share of a story frame, and how many instants of it are drawn. */
const SHUTTER_SHARE = 0.5
const INSTANTS = 3
/** Stage rows that people and their shade can reach. */
const PEOPLE = { top: 178, bottom: 346 }

/** One plate's set and camera. Painting the set takes seconds; frames then take a fraction of one. */
export class Shoot {
  readonly takes: readonly Take[]
  private readonly canvas: Canvas
  private readonly water: Water
  private readonly crowd: Crowd
  private readonly lens: Float32Array
  private readonly plane: Float32Array
  private readonly scratch: Float32Array
  private readonly empty: Float32Array
  /** The frame that `empty` is of. */
  private emptyIndex = -1
  private readonly unitsX: number
  private readonly unitsY: number

  constructor(readonly scene: Scene) {
    const { seed, width, height } = scene
    this.unitsX = STAGE_WIDTH / width
    this.unitsY = STAGE_HEIGHT / height
    this.takes = allTakes(scene)
    this.canvas = paintBackground(seed, width, height)
    // The water mirrors the sharp set: its ripples blur far more than the lens.
    this.water = new Water(this.canvas, seed, width, height)
    throughLens(this.canvas)
    // Sway may bring one more row into the window at either end.
    const rows = Math.min(height, Math.ceil((PEOPLE.bottom - PEOPLE.top) / this.unitsY) + 4)
    this.crowd = new Crowd(width * rows, this.unitsX, this.unitsY, INSTANTS)
    this.lens = vignette(width, height)
    this.plane = new Float32Array(width * height)
    this.scratch = new Float32Array(width * this.canvas.height)
    this.empty = new Float32Array(width * height * 3)
  }

  /**
   * The frame `index` (from 0) in linear light without noise: RGB, interleaved, into `out`.
   */
  frame(index: number, out: Float32Array, without: LeftOut = {}): void {
    const { story } = this.scene
    const take = this.takes[index]
    const time = timeOf(index, this.scene)
    if (this.emptyIndex !== index) this.paintEmpty(index, take, time)
    out.set(this.empty)
    if (story === 'quay' && !without.shadow) this.moveLight('shadow', 'wall', out, take, time)
    if (story === 'quay' && !without.reflection) this.moveLight('reflection', 'shutter', out, take, time)
    this.addPeople(out, take, time, without)
    const gain = 2 ** take.exposureStops
    for (let i = 0, at = 0; at < out.length; i++, at += 3) {
      const light = gain * this.lens[i]
      out[at] *= light
      out[at + 1] *= light
      out[at + 2] *= light
    }
  }

  /** The set and its water with nobody there: the same for all that a frame may leave out, and most of its time. */
  private paintEmpty(index: number, take: Take, time: number): void {
    const { width, height } = this.scene
    const whole = { x: 0, y: 0, w: width, h: height }
    const { canvas, plane, empty } = this
    const planes = [canvas.red, canvas.green, canvas.blue]
    for (let c = 0; c < 3; c++) {
      sample(planes[c], canvas.margin, whole, take, plane, this.scratch)
      for (let i = 0, to = c; to < empty.length; i++, to += 3) empty[to] = plane[i]
    }
    this.water.paint(empty, this.matte('water', this.water.window, take), take, time)
    this.emptyIndex = index
  }

  /** A matte as a frame shows it. The same buffer every time: use it before asking for the next. */
  private matte(name: Matte, window: Window, take: Take): Float32Array {
    sample(this.canvas.mattes[name], this.canvas.margin, window, take, this.plane, this.scratch)
    return this.plane
  }

  private moveLight(name: MomentName, surface: Matte, rgb: Float32Array, take: Take, time: number): void {
    const extent = momentExtent(name, time)
    if (extent === null) return
    const window = this.windowOf(extent, take)
    if (window.w <= 0 || window.h <= 0) return
    const matte = this.matte(surface, window, take)
    const [red, green, blue] = MOMENT_STOPS[name]
    for (let j = 0, at = 0; j < window.h; j++) {
      const y = (window.y + j + 0.5 - take.dy) * this.unitsY
      let to = ((window.y + j) * this.scene.width + window.x) * 3
      for (let i = 0; i < window.w; i++, at++, to += 3) {
        const share = momentShare(name, (window.x + i + 0.5 - take.dx) * this.unitsX, y, time)
        if (share <= 0 || matte[at] <= 0) continue
        rgb[to] *= 1 + matte[at] * (2 ** (red * share) - 1)
        rgb[to + 1] *= 1 + matte[at] * (2 ** (green * share) - 1)
        rgb[to + 2] *= 1 + matte[at] * (2 ** (blue * share) - 1)
      }
    }
  }

  private addPeople(rgb: Float32Array, take: Take, time: number, without: LeftOut): void {
    const { width, story } = this.scene
    const window = this.windowOf(
      { left: -99, right: STAGE_WIDTH + 99, top: PEOPLE.top, bottom: PEOPLE.bottom },
      take,
    )
    const x0 = (window.x + 0.5 - take.dx) * this.unitsX
    const y0 = (window.y + 0.5 - take.dy) * this.unitsY
    const { crowd } = this
    const drawPeople = story === 'quay' ? drawQuayPeople : drawMarketPeople
    crowd.aim(window, x0, y0)
    for (let k = 0; k < INSTANTS; k++) {
      drawPeople(crowd, time + SHUTTER_SHARE * ((k + 0.5) / INSTANTS - 0.5), without)
      crowd.expose()
    }
    const front = this.matte('front', window, take)
    for (let j = 0, at = 0; j < window.h; j++) {
      // Shade lies on the ground only; the wall's foot is where the ground ends.
      const onGround = Math.max(0, Math.min(1, window.y + j + 1 - take.dy - WALL.base / this.unitsY))
      let to = ((window.y + j) * width + window.x) * 3
      for (let i = 0; i < window.w; i++, at++, to += 3) {
        const behind = 1 - front[at]
        const light = 1 - behind * onGround * crowd.shade[at]
        const keep = 1 - behind * crowd.rgba[4 * at + 3]
        rgb[to] = rgb[to] * light * keep + behind * crowd.rgba[4 * at]
        rgb[to + 1] = rgb[to + 1] * light * keep + behind * crowd.rgba[4 * at + 1]
        rgb[to + 2] = rgb[to + 2] * light * keep + behind * crowd.rgba[4 * at + 2]
      }
    }
  }

  /** Plate pixels that a part of the stage can reach on a swaying frame. */
  private windowOf(extent: { left: number; top: number; right: number; bottom: number }, take: Take): Window {
    const { width, height } = this.scene
    const x = Math.max(0, Math.floor(extent.left / this.unitsX + take.dx) - 1)
    const y = Math.max(0, Math.floor(extent.top / this.unitsY + take.dy) - 1)
    const right = Math.min(width, Math.ceil(extent.right / this.unitsX + take.dx) + 1)
    const bottom = Math.min(height, Math.ceil(extent.bottom / this.unitsY + take.dy) + 1)
    return { x, y, w: right - x, h: bottom - y }
  }
}

/** What the camera does on every frame. */
export function allTakes(scene: Scene): Take[] {
  const { seed, width, height, frames } = scene
  return Array.from({ length: frames }, (_, index) =>
    takeAt(seed, index, timeOf(index, scene), width, height),
  )
}
