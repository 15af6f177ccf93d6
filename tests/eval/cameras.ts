// Footage from nothing: three locked-off cameras on places that nobody filmed, as further plates to plant truth on.
import { mkdir, rename, rm, stat, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import sharp from 'sharp'
import { normal, randomFrom } from '../random.js'
import { type Picture, picture } from '../resample.js'
import { floor } from './camera-floor.js'
import { room } from './camera-room.js'
import { table } from './camera-table.js'
import { toDisplay } from './footage.js'

/** A place over time, linear light. Frames are asked for in their order. */
export interface Scene {
  /** What never moves. */
  readonly ground: (target: Picture) => void
  /** Everything else, painted over the ground. */
  readonly show: (shown: Picture, index: number) => void
  /** What the camera makes of it: a factor per channel. */
  readonly gains: (shown: Picture, index: number) => readonly number[]
}

export const CAMERAS = ['room', 'table', 'floor'] as const
export type Camera = (typeof CAMERAS)[number]

const SCENES = { room, table, floor }
/** Goes up when any of them changes. */
const MADE = 4
const WIDTH = 480
const HEIGHT = 360
const FRAMES = 150
const FIRST = 1001
/** Variance of the grain in linear light: of the read-out, and per unit of light. One code of 255 in a mid grey. */
const READ_OUT = 1e-6
const PER_LIGHT = 0.7e-4
const JPEG_QUALITY = 85
/** How much steeper than its transfer function a camera shows the middle of its range, as such cameras do. */
const CONTRAST = 0.3
/** Square blocks that differ by less than so many codes in the mean are not sent again, but for every so many frames. */
const BLOCK = 16
const NOT_SENT = 1.8
const SENT_WHOLE = 24

export function cameraOf(name: string): Camera | null {
  return CAMERAS.find((c) => c === name) ?? null
}

/** The folder of the camera's frames; made if it is not there yet. */
export async function cameraPlate(camera: Camera, say: (line: string) => void): Promise<string> {
  const folder = join(tmpdir(), 'offcut-eval', `cameras-${MADE}`, camera)
  if (await stat(folder).catch(() => null)) return folder
  say(`${camera}: making ${FRAMES} frames`)
  const unfinished = `${folder}.part-${process.pid}`
  await rm(unfinished, { recursive: true, force: true })
  await mkdir(unfinished, { recursive: true })
  const scene = SCENES[camera](camera, WIDTH, HEIGHT, FRAMES)
  for await (const [index, png] of filmed(scene, camera, WIDTH, HEIGHT, FRAMES)) {
    await writeFile(join(unfinished, `${camera}.${FIRST + index}.png`), png)
  }
  await rename(unfinished, folder).catch(async (error: NodeJS.ErrnoException) => {
    if (error.code !== 'ENOTEMPTY' && error.code !== 'EEXIST') throw error
    await rm(unfinished, { recursive: true })
  })
  return folder
}

/**
 * Frame by frame: the scene through a lens, with grain, as a compressed movie would show it, as PNG. Blocks that hardly
 * change stay as they were, so that neighbours in time are nearly alike and slow light comes in steps.
 */
export async function* filmed(
  scene: Scene,
  key: string,
  width: number,
  height: number,
  frames: number,
): AsyncGenerator<[index: number, png: Buffer]> {
  const ground = picture(width, height)
  scene.ground(ground)
  const grain = grainOf(key)
  const shown = picture(width, height)
  const sent = new Uint8Array(3 * width * height)
  for (let index = 0; index < frames; index++) {
    shown.data.set(ground.data)
    scene.show(shown, index)
    const codes = develop(soften(shown), scene.gains(shown, index), grain)
    const raw = { width, height, channels: 3 as const }
    const jpeg = await sharp(codes, { raw }).jpeg({ quality: JPEG_QUALITY }).toBuffer()
    const coded = await sharp(jpeg).raw().toBuffer()
    if (index % SENT_WHOLE === 0) sent.set(coded)
    else sendChanged(sent, coded, width, height)
    yield [index, await sharp(sent, { raw }).png({ compressionLevel: 2 }).toBuffer()]
  }
}

/** Conditional replenishment, as movie coders skip blocks. F. Mounts, A Video Encoding System (1969). */
function sendChanged(sent: Uint8Array, coded: Uint8Array, width: number, height: number): void {
  for (let top = 0; top < height; top += BLOCK) {
    for (let left = 0; left < width; left += BLOCK) {
      const right = 3 * Math.min(width, left + BLOCK)
      let sum = 0
      let n = 0
      for (let y = top; y < Math.min(height, top + BLOCK); y++) {
        for (let i = 3 * (y * width + left); i < 3 * y * width + right; i++, n++)
          sum += Math.abs(sent[i] - coded[i])
      }
      if (sum < NOT_SENT * n) continue
      for (let y = top; y < Math.min(height, top + BLOCK); y++) {
        const row = 3 * y * width
        sent.set(coded.subarray(row + 3 * left, row + right), row + 3 * left)
      }
    }
  }
}

/** A lens that is not quite sharp: 1 2 1 both ways. */
function soften({ width, height, data }: Picture): Picture {
  const across = picture(width, height)
  const out = picture(width, height)
  const row = 3 * width
  for (let y = 0, i = 0; y < height; y++) {
    for (let x = 0; x < row; x++, i++) {
      const left = x >= 3 ? data[i - 3] : data[i]
      const right = x < row - 3 ? data[i + 3] : data[i]
      across.data[i] = 0.25 * left + 0.5 * data[i] + 0.25 * right
    }
  }
  for (let i = 0; i < data.length; i++) {
    const above = i >= row ? across.data[i - row] : across.data[i]
    const below = i < data.length - row ? across.data[i + row] : across.data[i]
    out.data[i] = 0.25 * above + 0.5 * across.data[i] + 0.25 * below
  }
  return out
}

function develop(
  { width, data }: Picture,
  gains: readonly number[],
  grain: (samples: number) => Float32Array,
): Uint8Array {
  const codes = new Uint8Array(data.length)
  const row = 3 * width
  for (let start = 0; start < data.length; start += row) {
    const noise = grain(row)
    for (let x = 0; x < row; x++) {
      const light = data[start + x] * gains[x % 3]
      const display = toDisplay(light + noise[x] * Math.sqrt(READ_OUT + PER_LIGHT * light))
      codes[start + x] = Math.round(255 * (display - (CONTRAST / TURN) * Math.sin(TURN * display)))
    }
  }
  return codes
}

const TURN = 2 * Math.PI
const DRAWN = 1 << 16

/** Normal draws, a row at a time, each row from another place of a long list: a draw per sample would take minutes. */
function grainOf(key: string): (samples: number) => Float32Array {
  const random = randomFrom(`grain ${key}`)
  const drawn = Float32Array.from({ length: DRAWN }, () => normal(random))
  return (samples) => {
    const from = Math.floor((DRAWN - samples) * random())
    return drawn.subarray(from, from + samples)
  }
}
