// The picture of the people on one frame: premultiplied colour and coverage, and the soft shade they throw on the ground.
import type { Window } from './camera.js'
import { Dab, sunOn } from './light.js'
import { clamp, cover } from './shapes.js'

export type Colour = readonly [number, number, number]

/** Width of a figure's edge, plate pixels: as soft as the lens makes the set. */
const EDGE_PX = 1.3

/**
 * Collects shapes in stage units into a window of the plate. `aim` begins a frame; shapes drawn between two calls of
 * `expose` are one instant of it, and the instants are averaged, which blurs movement as an open shutter does.
 */
export class Crowd {
  /** RGBA, premultiplied, rows of the window. */
  readonly rgba: Float32Array
  /** Share of the light that is lost on the ground, 0 to 1, rows of the window. */
  readonly shade: Float32Array
  private readonly instant: Float32Array
  private readonly instantShade: Float32Array
  private readonly dab = new Dab()
  private readonly edge: number
  private window: Window = { x: 0, y: 0, w: 0, h: 0 }
  private x0 = 0
  private y0 = 0

  /**
   * @param pixels   as many as the largest window holds
   * @param unitsX and unitsY stage units per pixel
   * @param instants how many make a frame
   */
  constructor(
    pixels: number,
    private readonly unitsX: number,
    private readonly unitsY: number,
    private readonly instants: number,
  ) {
    this.rgba = new Float32Array(pixels * 4)
    this.instant = new Float32Array(pixels * 4)
    this.shade = new Float32Array(pixels)
    this.instantShade = new Float32Array(pixels)
    this.edge = EDGE_PX * Math.max(unitsX, unitsY)
  }

  /** Begins a frame. (x0, y0) is the stage position of the window's first pixel's centre. */
  aim(window: Window, x0: number, y0: number): void {
    this.window = window
    this.x0 = x0
    this.y0 = y0
    this.rgba.fill(0)
    this.shade.fill(0)
  }

  /** Adds what was drawn since the last call to the exposure, as one of its instants. */
  expose(): void {
    const share = 1 / this.instants
    for (let i = 0; i < this.rgba.length; i++) this.rgba[i] += share * this.instant[i]
    for (let i = 0; i < this.shade.length; i++) this.shade[i] += share * this.instantShade[i]
    this.instant.fill(0)
    this.instantShade.fill(0)
  }

  /** A rounded limb from a to b, lit as a cylinder; `sky` dims what lies in the folds. */
  limb(
    ax: number,
    ay: number,
    bx: number,
    by: number,
    ra: number,
    rb: number,
    colour: Colour,
    sky = 0.8,
  ): void {
    const ex = bx - ax
    const ey = by - ay
    const long = Math.max(1e-6, ex * ex + ey * ey)
    const r = Math.max(ra, rb)
    this.each(
      Math.min(ax, bx) - r,
      Math.min(ay, by) - r,
      Math.max(ax, bx) + r,
      Math.max(ay, by) + r,
      (x, y) => {
        const t = clamp(((x - ax) * ex + (y - ay) * ey) / long, 0, 1)
        const dx = x - ax - t * ex
        const dy = y - ay - t * ey
        const radius = ra + (rb - ra) * t
        const d = Math.sqrt(dx * dx + dy * dy)
        this.lit(cover(d - radius, this.edge), dx / radius, dy / radius, colour, sky)
      },
    )
  }

  /** A rounded body. */
  ellipse(cx: number, cy: number, rx: number, ry: number, colour: Colour, sky = 0.8): void {
    this.each(cx - rx, cy - ry, cx + rx, cy + ry, (x, y) => {
      const nx = (x - cx) / rx
      const ny = (y - cy) / ry
      const k = Math.sqrt(nx * nx + ny * ny)
      this.lit(cover((k - 1) * Math.min(rx, ry), this.edge), nx, ny, colour, sky)
    })
  }

  /** A flat convex shape given by its corners in order; `sun` is the light on it. */
  facet(corners: readonly number[], colour: Colour, sun: number, sky = 0.8): void {
    let left = 1e9
    let right = -1e9
    let top = 1e9
    let bottom = -1e9
    let turn = 0
    for (let k = 0; k < corners.length; k += 2) {
      turn +=
        corners[k] * corners[(k + 3) % corners.length] - corners[(k + 2) % corners.length] * corners[k + 1]
      left = Math.min(left, corners[k])
      right = Math.max(right, corners[k])
      top = Math.min(top, corners[k + 1])
      bottom = Math.max(bottom, corners[k + 1])
    }
    // Which way round the corners go decides which side of an edge is outside.
    const side = turn > 0 ? 1 : -1
    this.each(left, top, right, bottom, (x, y) => {
      let d = -1e9
      for (let k = 0; k < corners.length; k += 2) {
        const ax = corners[k]
        const ay = corners[k + 1]
        const ex = corners[(k + 2) % corners.length] - ax
        const ey = corners[(k + 3) % corners.length] - ay
        d = Math.max(d, (side * ((x - ax) * ey - (y - ay) * ex)) / Math.sqrt(ex * ex + ey * ey))
      }
      this.dab.matt(cover(d, this.edge), colour[0], colour[1], colour[2], sun, sky)
    })
  }

  /** A ring of that radius and half width. */
  ring(cx: number, cy: number, radius: number, half: number, colour: Colour): void {
    const r = radius + half
    this.each(cx - r, cy - r, cx + r, cy + r, (x, y) => {
      const dx = x - cx
      const dy = y - cy
      const d = Math.sqrt(dx * dx + dy * dy)
      const n = (d - radius) / half
      this.lit(
        cover(Math.abs(d - radius) - half, this.edge),
        (n * dx) / (d + 1e-6),
        (n * dy) / (d + 1e-6),
        colour,
        0.75,
      )
    })
  }

  /** Shade on the ground along a line, blurred by `soft`; the ground is seen so flat that it is squeezed in y. */
  ground(
    ax: number,
    ay: number,
    bx: number,
    by: number,
    r: number,
    softA: number,
    softB: number,
    deep: number,
  ): void {
    const squeeze = 3.2
    const ex = bx - ax
    const ey = (by - ay) * squeeze
    const long = Math.max(1e-6, ex * ex + ey * ey)
    const reach = r + Math.max(softA, softB)
    this.eachPixel(
      Math.min(ax, bx) - reach,
      Math.min(ay, by) - reach,
      Math.max(ax, bx) + reach,
      Math.max(ay, by) + reach,
      (x, y, at) => {
        const dy = (y - ay) * squeeze
        const t = clamp(((x - ax) * ex + dy * ey) / long, 0, 1)
        const off = Math.hypot(x - ax - t * ex, dy - t * ey)
        const soft = softA + (softB - softA) * t
        const dark = deep * (1 - 0.45 * t) * clamp(0.5 - (off - r) / soft, 0, 1)
        if (dark > this.instantShade[at]) this.instantShade[at] = dark
      },
    )
  }

  private lit(alpha: number, nx: number, ny: number, colour: Colour, sky: number): void {
    if (alpha <= 0) return
    const nz = Math.sqrt(Math.max(0.05, 1 - nx * nx - ny * ny))
    this.dab.matt(alpha, colour[0], colour[1], colour[2], sunOn(nx, ny, nz), sky * (0.72 - 0.28 * ny))
  }

  private each(
    left: number,
    top: number,
    right: number,
    bottom: number,
    shape: (x: number, y: number) => void,
  ): void {
    const { dab, instant } = this
    this.eachPixel(left, top, right, bottom, (x, y, at) => {
      dab.a = 0
      shape(x, y)
      if (dab.a <= 0) return
      const keep = 1 - dab.a
      const i = at * 4
      instant[i] = instant[i] * keep + dab.r * dab.a
      instant[i + 1] = instant[i + 1] * keep + dab.g * dab.a
      instant[i + 2] = instant[i + 2] * keep + dab.b * dab.a
      instant[i + 3] = instant[i + 3] * keep + dab.a
    })
  }

  private eachPixel(
    left: number,
    top: number,
    right: number,
    bottom: number,
    use: (x: number, y: number, at: number) => void,
  ): void {
    const { w, h } = this.window
    const i0 = Math.max(0, Math.floor((left - this.edge - this.x0) / this.unitsX))
    const i1 = Math.min(w - 1, Math.ceil((right + this.edge - this.x0) / this.unitsX))
    const j0 = Math.max(0, Math.floor((top - this.edge - this.y0) / this.unitsY))
    const j1 = Math.min(h - 1, Math.ceil((bottom + this.edge - this.y0) / this.unitsY))
    for (let j = j0; j <= j1; j++) {
      const y = this.y0 + j * this.unitsY
      for (let i = i0; i <= i1; i++) use(this.x0 + i * this.unitsX, y, j * w + i)
    }
  }
}
