// The footage that truth is planted on: any locked-off plate that the project reads, frame by frame in linear light.
import { createHash } from 'node:crypto'
import { stat } from 'node:fs/promises'
import { encode } from '../../src/colour/transfer.js'
import { openPlate, type Plate, readRect } from '../../src/footage/plate.js'
import type { Rect } from '../../src/raster/rect.js'
import type { Picture } from '../resample.js'

export interface Footage {
  readonly plate: Plate
  readonly frames: readonly number[]
  readonly width: number
  readonly height: number
  /** Changes when a file of the plate does. */
  readonly key: string
}

export async function openFootage(spec: string): Promise<Footage> {
  const plate = await openPlate(spec)
  const hash = createHash('sha256').update(plate.spec)
  for (const frame of plate.frames) {
    const { size, mtimeMs } = await stat(plate.pathOf(frame))
    hash.update(` ${frame} ${size} ${mtimeMs}`)
  }
  return {
    plate,
    frames: plate.frames,
    width: plate.width,
    height: plate.height,
    key: hash.digest('hex').slice(0, 16),
  }
}

/** One frame, or a rectangle of it, in linear light. */
export async function readLinear(footage: Footage, frame: number, rect?: Rect): Promise<Picture> {
  const whole = { x: 0, y: 0, w: footage.width, h: footage.height }
  const { data, shape } = await readRect(footage.plate, frame, rect ?? whole)
  return { width: shape[1], height: shape[0], data }
}

const STEPS = 65536
/** sRGB code of linear light on a square-root scale, fine enough (1/65536) for every 16-bit code. */
const display = Float32Array.from({ length: STEPS + 2 }, (_, i) => encode((i / STEPS) ** 2, 'srgb'))

/** Display-encoded sRGB of one linear-light sample, cut to 0 to 1. */
export function toDisplay(linear: number): number {
  if (!(linear > 0)) return 0
  if (linear >= 1) return 1
  const at = Math.sqrt(linear) * STEPS
  const i = Math.floor(at)
  return display[i] + (at - i) * (display[i + 1] - display[i])
}

/** Linear light of a display-encoded sample, 0 to 1. IEC 61966-2-1, written apart from src/ on purpose. */
export function toLinear(v: number): number {
  return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4
}
