// The harbour: ripples on a plane in perspective that mirror the quay, the building and the sky.

import type { Take, Window } from './camera.js'
import { type Canvas, OVERSAMPLING } from './canvas.js'
import { random, resolved, valueNoise } from './noise.js'
import { clamp, lerp, ramp } from './shapes.js'
import {
  EYE_METRES,
  HORIZON,
  LENS,
  STAGE_HEIGHT,
  STAGE_WIDTH,
  WATER_DROP_METRES,
  WATERLINE,
} from './stage.js'

const EYE_ABOVE_WATER = EYE_METRES + WATER_DROP_METRES
const STORY_FRAMES_PER_SECOND = 24
const GRAVITY = 9.81
const WAVES = 18
/** Slope of a single wave: eighteen of them at random phases make a breeze in a sheltered basin. */
const WAVE_SLOPE = 0.0075
/** A facet tilted by t turns the mirrored ray by 2t. */
const TURN = 2 * LENS
/** Where the mirrored quay ends and the mirrored building begins, and the sum of a point's and its image's y. */
const LIP_IMAGE = 503
const BUILDING_SUM = 742
/** A facet is a curved piece of a ripple: what it mirrors is smeared over this much, stage units. */
const LIP_SOFT = 15
const SMEAR = { across: 2, down: 4 }
/** Resolution of the picture that the water mirrors, stage units per sample: ripples blur more than that. */
const MIRROR = 4

interface Wave {
  readonly kx: number
  readonly kz: number
  readonly omega: number
  readonly phase: number
  readonly slope: number
}

/** Everything about the water that does not change from frame to frame. */
export class Water {
  private readonly waves: Wave[]
  private readonly mirror: Float32Array
  private readonly columns = STAGE_WIDTH / MIRROR
  private readonly rows = Math.ceil(WATERLINE / MIRROR)
  private readonly step = { cos: new Float64Array(WAVES), sin: new Float64Array(WAVES) }
  private readonly spin = { cos: new Float64Array(WAVES), sin: new Float64Array(WAVES) }
  private readonly tilt = { x: new Float64Array(WAVES), z: new Float64Array(WAVES) }

  constructor(
    canvas: Canvas,
    private readonly seed: number,
    private readonly width: number,
    private readonly height: number,
  ) {
    this.waves = makeWaves(seed)
    this.mirror = mirrored(canvas, width, height, this.columns, this.rows)
  }

  /** The rows of the plate that may show water. */
  get window(): Window {
    const top = Math.floor(((WATERLINE - 6) * this.height) / STAGE_HEIGHT)
    return { x: 0, y: top, w: this.width, h: this.height - top }
  }

  /**
   * Paints the water over `rgb` (the whole plate, interleaved) as much as `matte` (of `window`) shows it.
   *
   * @param time in story frames
   */
  paint(rgb: Float32Array, matte: Float32Array, take: Take, time: number): void {
    const { y: top, h, w } = this.window
    const seconds = time / STORY_FRAMES_PER_SECOND
    const unitsX = STAGE_WIDTH / this.width
    const unitsY = STAGE_HEIGHT / this.height
    const x0 = (0.5 - take.dx) * unitsX
    const { cos, sin } = this.spin
    const { cos: stepCos, sin: stepSin } = this.step
    const { x: tiltX, z: tiltZ } = this.tilt
    for (let j = 0; j < h; j++) {
      const y = Math.max(WATERLINE - 3, (top + j + 0.5 - take.dy) * unitsY)
      const scale = (y - HORIZON) / EYE_ABOVE_WATER
      const z = LENS / scale
      this.startRow(
        (x0 - STAGE_WIDTH / 2) / scale,
        z,
        unitsX / scale,
        (z * z * unitsY) / (LENS * EYE_ABOVE_WATER),
        seconds,
      )
      let at = j * w
      let to = (top + j) * this.width * 3
      for (let i = 0; i < w; i++, at++, to += 3) {
        let sx = 0
        let sz = 0
        for (let k = 0; k < WAVES; k++) {
          const c = cos[k]
          const s = sin[k]
          sx += tiltX[k] * c
          sz += tiltZ[k] * c
          cos[k] = c * stepCos[k] - s * stepSin[k]
          sin[k] = s * stepCos[k] + c * stepSin[k]
        }
        const shown = matte[at]
        if (shown > 0.002)
          this.shade(rgb, to, shown, x0 + i * unitsX, y, (x0 + i * unitsX - 480) / scale, z, sx, sz, seconds)
      }
    }
  }

  private startRow(across: number, z: number, stepX: number, stepZ: number, seconds: number): void {
    for (let k = 0; k < WAVES; k++) {
      const wave = this.waves[k]
      const angle = wave.kx * across + wave.kz * z - wave.omega * seconds + wave.phase
      this.spin.cos[k] = Math.cos(angle)
      this.spin.sin[k] = Math.sin(angle)
      this.step.cos[k] = Math.cos(wave.kx * stepX)
      this.step.sin[k] = Math.sin(wave.kx * stepX)
      const seen =
        resolved((2 * Math.PI) / Math.max(1e-6, Math.abs(wave.kz)), stepZ) *
        resolved((2 * Math.PI) / Math.max(1e-6, Math.abs(wave.kx)), stepX)
      const k2 = Math.hypot(wave.kx, wave.kz)
      this.tilt.x[k] = (seen * wave.slope * wave.kx) / k2
      this.tilt.z[k] = (seen * wave.slope * wave.kz) / k2
    }
  }

  private shade(
    rgb: Float32Array,
    to: number,
    shown: number,
    x: number,
    y: number,
    across: number,
    z: number,
    sx: number,
    sz: number,
    seconds: number,
  ): void {
    const gust =
      0.75 + 0.6 * valueNoise(across * 0.55 - 0.35 * seconds, z * 0.5 + 0.2 * seconds, this.seed + 311)
    const tilt = gust * sz
    // A facet that leans towards the lens mirrors what stands higher, and lets more of the dark water through.
    const imageY = y + TURN * tilt
    const building = ramp(LIP_IMAGE - LIP_SOFT, LIP_IMAGE + LIP_SOFT, imageY)
    const sourceY = lerp(2 * WATERLINE - imageY, BUILDING_SUM - imageY, building)
    const sourceX = x + 0.22 * TURN * gust * sx
    const facing = clamp((y - HORIZON) / LENS + 1.15 * tilt, 0.02, 1)
    const mirror = 0.02 + 0.98 * (1 - facing) ** 5
    const near = clamp((y - WATERLINE) / 90, 0, 1)
    const u = clamp(sourceX / MIRROR - 0.5, 0, this.columns - 1.001)
    const v = clamp(sourceY / MIRROR - 0.5, 0, this.rows - 1.001)
    const iu = u | 0
    const iv = v | 0
    const fu = u - iu
    const fv = v - iv
    const a = (iv * this.columns + iu) * 3
    const b = a + this.columns * 3
    const glint = 0.5 * ramp(0.048, 0.075, tilt + 0.35 * gust * sx)
    for (let c = 0; c < 3; c++) {
      const topRow = this.mirror[a + c] * (1 - fu) + this.mirror[a + c + 3] * fu
      const bottom = this.mirror[b + c] * (1 - fu) + this.mirror[b + c + 3] * fu
      const image = topRow * (1 - fv) + bottom * fv
      const body = BODY[c] * (0.8 + 0.5 * near)
      const colour = body + (1.35 * image - body) * Math.min(1, mirror * 1.6) + glint
      rgb[to + c] += (colour - rgb[to + c]) * shown
    }
  }
}

/** The colour of the water itself: green and a little cloudy. */
const BODY = [0.05, 0.088, 0.078] as const

function makeWaves(seed: number): Wave[] {
  const next = random(seed + 321)
  const waves: Wave[] = []
  for (let k = 0; k < WAVES; k++) {
    const long = 0.13 * (2.2 / 0.13) ** (k / (WAVES - 1)) * (0.9 + 0.2 * next())
    const number = (2 * Math.PI) / long
    // The breeze comes in from the left over the basin; waves spread to either side of it.
    const heading = 0.6 + 2.1 * (next() + next() - 1)
    waves.push({
      kx: number * Math.cos(heading),
      kz: number * Math.sin(heading),
      omega: Math.sqrt(GRAVITY * number),
      phase: 2 * Math.PI * next(),
      slope: WAVE_SLOPE * (0.7 + 0.6 * next()),
    })
  }
  return waves
}

/** The set above the waterline at the mirror's resolution, each sample the mean of what it covers. */
function mirrored(
  canvas: Canvas,
  width: number,
  height: number,
  columns: number,
  rows: number,
): Float32Array {
  const out = new Float32Array(columns * rows * 3)
  const planes = [canvas.red, canvas.green, canvas.blue]
  for (let v = 0; v < rows; v++) {
    const j0 = Math.round(OVERSAMPLING * ((v * MIRROR * height) / STAGE_HEIGHT + canvas.margin))
    const j1 = Math.max(
      j0 + 1,
      Math.round(OVERSAMPLING * (((v + 1) * MIRROR * height) / STAGE_HEIGHT + canvas.margin)),
    )
    for (let u = 0; u < columns; u++) {
      const i0 = Math.round(OVERSAMPLING * ((u * MIRROR * width) / STAGE_WIDTH + canvas.margin))
      const i1 = Math.max(
        i0 + 1,
        Math.round(OVERSAMPLING * (((u + 1) * MIRROR * width) / STAGE_WIDTH + canvas.margin)),
      )
      for (let c = 0; c < 3; c++) {
        let sum = 0
        for (let j = j0; j < j1; j++) {
          for (let i = i0; i < i1; i++) sum += planes[c].data[j * canvas.width + i]
        }
        out[(v * columns + u) * 3 + c] = sum / ((j1 - j0) * (i1 - i0))
      }
    }
  }
  smear(out, columns, rows, 3, SMEAR.across)
  smear(out, rows, columns, 3 * columns, SMEAR.down)
  return out
}

/** Two running means along one axis of the mirror's samples, reaching `radius` samples either way, edges repeated. */
function smear(data: Float32Array, length: number, lines: number, stride: number, radius: number): void {
  const across = stride === 3 ? 3 * length : 3
  const line = new Float64Array(length)
  for (let pass = 0; pass < 2; pass++) {
    for (let c = 0; c < 3; c++) {
      for (let l = 0; l < lines; l++) {
        const start = l * across + c
        for (let k = 0; k < length; k++) line[k] = data[start + k * stride]
        for (let k = 0; k < length; k++) {
          let sum = 0
          for (let r = -radius; r <= radius; r++) sum += line[clamp(k + r, 0, length - 1)]
          data[start + k * stride] = sum / (2 * radius + 1)
        }
      }
    }
  }
}
