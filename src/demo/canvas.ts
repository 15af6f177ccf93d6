// The static set, painted once at a higher resolution than the plate and with a margin for the camera's sway.
import { type Plane, plane } from '../raster/plane.js'
import { Dab } from './light.js'
import { STAGE_HEIGHT, STAGE_WIDTH } from './stage.js'

/** Samples per plate pixel along each axis: with the lens's blur on top, two keep every sway equally sharp. */
export const OVERSAMPLING = 2

/** Surfaces that something later needs to know: where light moves, where water shows, what stands before people. */
export type Matte = 'wall' | 'shutter' | 'water' | 'front'
const MATTES: readonly Matte[] = ['wall', 'shutter', 'water', 'front']

/** Edges in stage units, outside which a layer paints nothing. */
interface Extent {
  readonly left: number
  readonly top: number
  readonly right: number
  readonly bottom: number
}

export interface Layer {
  readonly extent: Extent
  /** The matte that the layer's coverage belongs to; it is taken away from every other matte. */
  readonly matte?: Matte
  /** Colour and coverage at a point of the stage; `fp` is the width of one sample in stage units. */
  paint(x: number, y: number, fp: number, dab: Dab): void
}

export class Canvas {
  readonly margin: number
  readonly width: number
  readonly height: number
  readonly red: Plane
  readonly green: Plane
  readonly blue: Plane
  readonly mattes: Record<Matte, Plane>
  private readonly unitsX: number
  private readonly unitsY: number

  /** @param plateWidth and plateHeight of the plate, pixels */
  constructor(plateWidth: number, plateHeight: number) {
    // Sway stays within four stage units; the filters reach three samples further.
    this.margin = Math.ceil(6 * Math.max(plateWidth / STAGE_WIDTH, plateHeight / STAGE_HEIGHT) + 4)
    this.width = OVERSAMPLING * (plateWidth + 2 * this.margin)
    this.height = OVERSAMPLING * (plateHeight + 2 * this.margin)
    this.unitsX = STAGE_WIDTH / plateWidth / OVERSAMPLING
    this.unitsY = STAGE_HEIGHT / plateHeight / OVERSAMPLING
    const empty = () => plane(0, 0, this.width, this.height)
    this.red = empty()
    this.green = empty()
    this.blue = empty()
    this.mattes = { wall: empty(), shutter: empty(), water: empty(), front: empty() }
  }

  /** Lays one layer over what is there. */
  paint(layer: Layer): void {
    const dab = new Dab()
    const fp = Math.max(this.unitsX, this.unitsY)
    const x0 = this.columnOf(layer.extent.left - fp)
    const x1 = this.columnOf(layer.extent.right + fp)
    const y0 = this.rowOf(layer.extent.top - fp)
    const y1 = this.rowOf(layer.extent.bottom + fp)
    const own = layer.matte === undefined ? undefined : this.mattes[layer.matte].data
    const others = MATTES.filter((m) => m !== layer.matte).map((m) => this.mattes[m].data)
    const red = this.red.data
    const green = this.green.data
    const blue = this.blue.data
    for (let j = y0; j < y1; j++) {
      const y = (j + 0.5 - OVERSAMPLING * this.margin) * this.unitsY
      for (let i = x0, at = j * this.width + x0; i < x1; i++, at++) {
        dab.a = 0
        layer.paint((i + 0.5 - OVERSAMPLING * this.margin) * this.unitsX, y, fp, dab)
        const a = dab.a
        if (a <= 0) continue
        red[at] += (dab.r - red[at]) * a
        green[at] += (dab.g - green[at]) * a
        blue[at] += (dab.b - blue[at]) * a
        if (own !== undefined) own[at] += (1 - own[at]) * a
        for (let m = 0; m < others.length; m++) others[m][at] *= 1 - a
      }
    }
  }

  private columnOf(x: number): number {
    return clampInt(x / this.unitsX + OVERSAMPLING * this.margin, this.width)
  }

  private rowOf(y: number): number {
    return clampInt(y / this.unitsY + OVERSAMPLING * this.margin, this.height)
  }
}

function clampInt(v: number, high: number): number {
  return Math.max(0, Math.min(high, Math.floor(v)))
}
