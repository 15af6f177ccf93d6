// The plate that is timed: a textured wall under sensor noise, a camera that sways, a post that walks through the region.
// Drawn once, kept in the temp folder.
import { link, mkdir, readFile, rename, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import pLimit from 'p-limit'
import sharp from 'sharp'
import { openPlate, readRect } from '../../src/footage/plate.js'
import { writeExr } from '../../src/footage/write/exr.js'
import { normal, randomFrom } from '../random.js'
import { moved, picture } from '../resample.js'

export interface BenchPlate {
  readonly folder: string
  readonly width: number
  readonly height: number
  readonly frames: number
  /** A post walks through the region now and then. */
  readonly post: boolean
}

/** Goes up when what is drawn changes. */
const DRAWING = 3
/**
 * Sway in whole thirds of a pixel: nine pictures of the wall serve all frames, and no two frames lie half a pixel apart,
 * where which whole-pixel offset is the right one would be a matter of taste.
 */
const PHASES = 3
const MARGIN = 16
/** Codes of 16 bits; the low four bits stay empty, as of a 12-bit camera. */
const KEPT_BITS = 0xfff0
const NOISE_CODES = 180
const NOISE_LENGTH = 1 << 22
/** Pictures are timed for reading, not for size: fast to write, and zlib unpacks every level alike. */
const COMPRESSION = 2
/** The post stands in the region in a fifth of the frames. */
const POST_EVERY = 60
const POST_FRAMES = 12

const root = join(tmpdir(), 'offcut-bench')

/** The first frame of every plate that is drawn. */
export const FIRST = 1001

export async function benchPlate(
  width: number,
  height: number,
  frames: number,
  { post = true, say }: { post?: boolean; say: (line: string) => void },
): Promise<BenchPlate> {
  const name = `${width}x${height}x${frames}${post ? '' : '-no-post'}-drawing${DRAWING}`
  const folder = join(root, name)
  const plate = { folder: join(folder, 'plate'), width, height, frames, post }
  if (await exists(join(folder, 'done'))) return plate
  await rm(folder, { recursive: true, force: true })
  await mkdir(plate.folder, { recursive: true })
  say(`drawing ${frames} frames of ${width} x ${height}, once`)
  await draw(plate, say)
  await writeFile(join(folder, 'done'), '')
  return plate
}

/** A longer plate whose frames are the first one's over and over, as hard links. */
export async function repeatedPlate(plate: BenchPlate, frames: number): Promise<BenchPlate> {
  const folder = `${plate.folder}-repeated${frames}`
  const made = { ...plate, folder, frames }
  if (await exists(folder)) return made
  await rm(`${folder}.part`, { recursive: true, force: true })
  await mkdir(`${folder}.part`)
  const { format } = await openPlate(plate.folder)
  for (let f = 0; f < frames; f++) {
    await link(framePath(plate.folder, f % plate.frames, format), framePath(`${folder}.part`, f, format))
  }
  await rename(`${folder}.part`, folder)
  return made
}

/** The same frames as half-float EXR in ZIP, as renders and conformed plates come. */
export async function exrPlate(plate: BenchPlate, say: (line: string) => void): Promise<BenchPlate> {
  const folder = `${plate.folder}-exr`
  const made = { ...plate, folder }
  if (await exists(folder)) return made
  await rm(`${folder}.part`, { recursive: true, force: true })
  await mkdir(`${folder}.part`)
  say(`writing ${plate.frames} frames as EXR, once`)
  const from = await openPlate(plate.folder)
  const displayWindow = { x: 0, y: 0, w: plate.width, h: plate.height }
  for (const frame of from.frames)
    await writeExr(join(`${folder}.part`, `wall.${frame}.exr`), await readRect(from, frame, displayWindow), {
      displayWindow,
    })
  await rename(`${folder}.part`, folder)
  return made
}

function framePath(folder: string, index: number, format = 'png'): string {
  return join(folder, `wall.${FIRST + index}.${format}`)
}

async function exists(path: string): Promise<boolean> {
  return readFile(path).then(
    () => true,
    (error: NodeJS.ErrnoException) => error.code === 'EISDIR',
  )
}

async function draw(plate: BenchPlate, say: (line: string) => void): Promise<void> {
  const { folder, width, height, frames } = plate
  const walls = drawWalls(width, height)
  const random = randomFrom('bench noise')
  const noise = Int16Array.from({ length: NOISE_LENGTH }, () => Math.round(NOISE_CODES * normal(random)))
  const sway = randomFrom('bench sway')
  const limit = pLimit(2)
  let done = 0
  const one = async (f: number) => {
    const at = (px: number, period: number) => px * Math.sin((2 * Math.PI * f) / period) + 0.25 * normal(sway)
    const x = Math.round(PHASES * at(3, 97))
    const y = Math.round(PHASES * at(2, 71))
    const start = Math.floor(sway() * NOISE_LENGTH)
    const codes = drawFrame(plate, f, walls, { x, y }, noise, start)
    await sharp(codes, { raw: { width, height, channels: 3 } })
      .toColourspace('rgb16')
      .png({ compressionLevel: COMPRESSION })
      .toFile(framePath(folder, f))
    if (++done % 60 === 0) say(`drew ${done} of ${frames}`)
  }
  await Promise.all(Array.from({ length: frames }, (_, f) => limit(one, f)))
}

/** The wall at all nine positions in thirds of a pixel, one channel, 16-bit codes, MARGIN wider on every side. */
function drawWalls(width: number, height: number): Uint16Array[] {
  const w = width + 2 * MARGIN
  const h = height + 2 * MARGIN
  const random = randomFrom('bench wall')
  const scene = picture(w + 8, h + 8)
  const fine = new Float32Array(scene.width * scene.height)
  for (let i = 0; i < fine.length; i++) fine[i] = normal(random)
  for (let y = 0, i = 0; y < scene.height; y++) {
    for (let x = 0; x < scene.width; x++, i++) {
      // A box of 2 x 2 keeps the detail that a camera would resolve, alike in both directions; bricks give it edges.
      const right = Math.min(x + 1, scene.width - 1)
      const under = Math.min(y + 1, scene.height - 1) * scene.width
      const grain = fine[i] + fine[y * scene.width + right] + fine[under + x] + fine[under + right]
      const brick = y % 40 < 3 || (x + (Math.floor(y / 40) % 2) * 45) % 90 < 3 ? -6000 : 0
      const broad = 3000 * Math.sin(x / 61) * Math.cos(y / 47)
      scene.data[3 * i] = 26000 + broad + brick + 1300 * grain
    }
  }
  const walls: Uint16Array[] = []
  const rect = { left: 4, top: 4, width: w, height: h }
  for (let v = 0; v < PHASES; v++) {
    for (let u = 0; u < PHASES; u++) {
      const { data } = moved(scene, rect, u / PHASES, v / PHASES, 'bicubic')
      walls.push(Uint16Array.from({ length: w * h }, (_, i) => data[3 * i]))
    }
  }
  return walls
}

function drawFrame(
  { width, height, post }: BenchPlate,
  f: number,
  walls: readonly Uint16Array[],
  thirds: { x: number; y: number },
  noise: Int16Array,
  noiseFrom: number,
): Uint16Array {
  const phase = (q: number) => ((q % PHASES) + PHASES) % PHASES
  const wall = walls[phase(thirds.y) * PHASES + phase(thirds.x)]
  const left = MARGIN - Math.floor(thirds.x / PHASES)
  const top = MARGIN - Math.floor(thirds.y / PHASES)
  const stride = width + 2 * MARGIN
  const codes = new Uint16Array(width * height * 3)
  const step = f % POST_EVERY
  const postX = post && step < POST_FRAMES ? Math.round(width / 2 + (step - POST_FRAMES / 2) * 20) : -1
  let n = noiseFrom
  for (let y = 0, i = 0; y < height; y++) {
    const from = (y + top) * stride + left
    const inPost = postX >= 0 && Math.abs(y - height / 2) < 120
    for (let x = 0; x < width; x++, i += 3) {
      const code = inPost && x >= postX - 25 && x < postX + 25 ? 6000 + 20 * (x & 63) : wall[from + x]
      n = n + 3 < NOISE_LENGTH ? n + 3 : 0
      codes[i] = (code * 0.98 + noise[n]) & KEPT_BITS
      codes[i + 1] = (code + noise[n + 1]) & KEPT_BITS
      codes[i + 2] = (code * 0.9 + noise[n + 2]) & KEPT_BITS
    }
  }
  return codes
}
