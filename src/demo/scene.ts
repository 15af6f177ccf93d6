// The demo footage: a quayside rendered from a seed, with the truth beside it.
import { access, readdir, rename, rm, writeFile } from 'node:fs/promises'
import { basename, dirname, join } from 'node:path'
import sharp from 'sharp'
import { misuse, writeError } from '../errors.js'
import { makeFolder } from '../footage/write/make-folder.js'
import type { OnProgress } from '../progress.js'
import { type Frame, frame as toFrame } from '../raster/frame.js'
import { accountFor, frameName, neutralStops, range } from './account.js'
import { boxSvg, porterMask } from './masks.js'
import { type MomentName, momentShare } from './moments.js'
import { expose } from './sensor.js'
import { type LeftOut, Shoot } from './shoot.js'
import { STAGE_HEIGHT, STAGE_WIDTH } from './stage.js'
import { timeOf } from './story.js'
import { SCENE_DEFAULTS, type SceneOptions, type SceneTruth } from './truth.js'

export type { LeftOut } from './shoot.js'
export type { FrameRange, FrameTruth, MomentTruth, SceneOptions, SceneTruth } from './truth.js'
export { SCENE_DEFAULTS } from './truth.js'

/** Frames being compressed at once: the next one is rendered meanwhile. */
const ENCODING_AT_ONCE = 3
/** Little compression: noise hardly shrinks, and more effort costs more time than it saves disk. */
const PNG_EFFORT = 2
/** Smallest plate on which the porter is still more than a pixel wide. */
const SMALLEST = { width: 48, height: 27 }
const LARGEST = 8192

export interface RenderCare {
  readonly onProgress?: OnProgress
  /** Stops between two frames; files written so far stay, none of them half. */
  readonly signal?: AbortSignal
  /** Writes over frames, masks and truth of an earlier run. */
  readonly overwrite?: boolean
}

/**
 * Renders the quayside and writes `plate/quay.####.png` (16-bit sRGB), `mask/…` and, last, `truth.json` into a folder.
 * The same options give the same bytes.
 *
 * @returns the truth, as written
 * @throws MISUSE for options out of range, FILE_EXISTS where a file would be written over, ABORT_ERR on the signal
 */
export async function renderScene(
  folder: string,
  options: SceneOptions = {},
  { onProgress, signal, overwrite = false }: RenderCare = {},
): Promise<SceneTruth> {
  const full = checked(options)
  const truth = accountFor(full)
  const { first, frames, width, height, seed } = full
  await refuseExisting(folder, truth, overwrite)
  signal?.throwIfAborted()
  const shoot = shootOf(full)
  await makeFolder(join(folder, 'plate'))
  await makeFolder(join(folder, 'mask'))
  await writeMasks(folder, truth, shoot)

  const linear = new Float32Array(width * height * 3)
  const encoding = new Set<Promise<void>>()
  let done = 0
  let failed: unknown
  try {
    for (let index = 0; index < frames; index++) {
      signal?.throwIfAborted()
      shoot.frame(index, linear)
      const code = new Uint16Array(linear.length)
      expose(linear, seed * 65537 + index, code)
      const path = join(folder, frameName(truth.plate.pattern, first + index))
      const job = encodePlate(code, width, height)
        .then((png) => writeWhole(path, png))
        .then(() => onProgress?.({ phase: 'rendering', done: ++done, total: frames }))
        .catch((error: unknown) => {
          failed ??= error
        })
        .finally(() => encoding.delete(job))
      encoding.add(job)
      if (encoding.size >= ENCODING_AT_ONCE) await Promise.race(encoding)
      if (failed !== undefined) throw failed
    }
  } finally {
    await Promise.all(encoding)
  }
  if (failed !== undefined) throw failed
  await writeWhole(join(folder, 'truth.json'), `${JSON.stringify(truth, null, 1)}\n`)
  return truth
}

/** The truth of a plate without rendering it. */
export function sceneTruth(options: SceneOptions = {}): SceneTruth {
  return accountFor(checked(options))
}

/**
 * A frame as it would be without the porter and the cart (or without what `without` says), free of noise, under the same
 * exposure and sway: linear light RGB, [height, width, 3]. The set is painted on the first call and kept for the next
 * calls with the same options.
 *
 * @param scene  the plate's truth or its options
 * @param number the frame's number in the plate
 * @param without what to leave out; an empty object leaves everything in
 */
export function cleanFrame(
  scene: SceneTruth | SceneOptions,
  number: number,
  without: LeftOut = { porter: true },
): Frame {
  const full = checked('schema' in scene ? scene.options : scene)
  const index = indexOf(number, full)
  const out = new Float32Array(full.width * full.height * 3)
  shootOf(full).frame(index, out, without)
  return toFrame(full.height, full.width, 3, out)
}

/**
 * How much a moment changes the luminance of a grey surface at every pixel of a frame, stops with sign: negative is
 * darker. [height, width, 1]. Whether a pixel shows wall or shutter at all is not asked.
 */
export function momentPicture(scene: SceneTruth | SceneOptions, name: MomentName, number: number): Frame {
  const full = checked('schema' in scene ? scene.options : scene)
  const { width, height, frames } = full
  const index = indexOf(number, full)
  const { dx, dy } = accountFor(full).frames[index]
  const sign = name === 'shadow' ? -1 : 1
  const out = new Float32Array(width * height)
  for (let y = 0, at = 0; y < height; y++) {
    for (let x = 0; x < width; x++, at++) {
      const u = ((x + 0.5 - dx) * STAGE_WIDTH) / width
      const v = ((y + 0.5 - dy) * STAGE_HEIGHT) / height
      out[at] = sign * neutralStops(name, momentShare(name, u, v, timeOf(index, frames)))
    }
  }
  return toFrame(height, width, 1, out)
}

let last: Shoot | undefined

/** The set of those options; the last one is kept, as painting it takes longer than ten frames. */
function shootOf(options: Required<SceneOptions>): Shoot {
  const same = last !== undefined && JSON.stringify(last.options) === JSON.stringify(options)
  if (last === undefined || !same) last = new Shoot(options)
  return last
}

function indexOf(number: number, { first, frames }: Required<SceneOptions>): number {
  const index = number - first
  if (!Number.isInteger(index) || index < 0 || index >= frames) {
    throw misuse('frame', `a frame of the plate, ${first} to ${first + frames - 1}`, number)
  }
  return index
}

function checked(options: SceneOptions): Required<SceneOptions> {
  const { seed, width, height, first, frames } = { ...SCENE_DEFAULTS, ...options }
  const whole = (name: string, value: number, low: number, high: number) => {
    if (!Number.isInteger(value) || value < low || value > high) {
      throw misuse(name, `a whole number from ${low} to ${high}`, value)
    }
  }
  whole('seed', seed, 0, 2 ** 31 - 1)
  whole('width', width, SMALLEST.width, LARGEST)
  whole('height', height, SMALLEST.height, LARGEST)
  whole('first', first, 0, 999_999)
  whole('frames', frames, 1, 10_000)
  return { seed, width, height, first, frames }
}

async function writeMasks(folder: string, truth: SceneTruth, shoot: Shoot): Promise<void> {
  const { width, height } = truth.plate
  const { first, frames } = truth.options
  const hidden = range(truth.hide).map((number) => ({
    number,
    time: timeOf(number - first, frames),
    take: shoot.takes[number - first],
  }))
  for (const at of hidden) {
    await writeWhole(
      join(folder, frameName(truth.hide.mask, at.number)),
      await encodeMask(porterMask(width, height, [at]), width, height),
    )
  }
  await writeWhole(
    join(folder, truth.hide.stillMask),
    await encodeMask(porterMask(width, height, hidden), width, height),
  )
  for (const moment of [truth.shadow, truth.reflection]) {
    await writeWhole(join(folder, moment.mask), boxSvg(width, height, moment.box))
  }
}

function encodePlate(code: Uint16Array, width: number, height: number): Promise<Buffer> {
  return sharp(code, { raw: { width, height, channels: 3 } })
    .toColourspace('rgb16')
    .png({ compressionLevel: PNG_EFFORT })
    .toBuffer()
}

function encodeMask(grey: Uint8Array, width: number, height: number): Promise<Buffer> {
  return sharp(grey, { raw: { width, height, channels: 1 } })
    .toColourspace('b-w')
    .png()
    .toBuffer()
}

/** A file appears under its name only when all of it is on the disk. */
async function writeWhole(path: string, data: Uint8Array | string): Promise<void> {
  const draft = join(dirname(path), `.${basename(path)}.${process.pid}.part`)
  try {
    await writeFile(draft, data)
    await rename(draft, path)
  } catch (cause) {
    await rm(draft, { force: true })
    const reason = cause instanceof Error ? cause.message : String(cause)
    throw writeError(
      'UNWRITABLE',
      path,
      `can't be written (${reason})`,
      'free some space or choose another folder',
      cause,
    )
  }
}

/** Nothing of the user's is written over; nor may frames of a longer earlier plate stay among the new ones. */
async function refuseExisting(folder: string, truth: SceneTruth, overwrite: boolean): Promise<void> {
  const { pattern, first, last } = truth.plate
  const ours = new Set(range({ first, last }).map((number) => basename(frameName(pattern, number))))
  const there = await readdir(join(folder, 'plate')).catch(() => [] as string[])
  for (const name of there.sort()) {
    if (ours.has(name) && overwrite) continue
    if (name.startsWith('.') && !ours.has(name)) continue
    const path = join(folder, 'plate', name)
    if (ours.has(name))
      throw writeError('FILE_EXISTS', path, 'is there already', 'choose another folder or allow overwriting')
    throw writeError(
      'FILE_EXISTS',
      path,
      `is no frame of the plate ${first} to ${last}`,
      'remove it or choose another folder',
    )
  }
  if (overwrite) return
  for (const name of ['truth.json', 'mask']) {
    const path = join(folder, name)
    const found = await access(path).then(
      () => true,
      () => false,
    )
    if (found)
      throw writeError('FILE_EXISTS', path, 'is there already', 'choose another folder or allow overwriting')
  }
}
