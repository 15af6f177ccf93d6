// The demo footage: a quayside rendered from a seed on a quiet day and on market day, with the truth beside it.
import { join } from 'node:path'
import { misuse } from '../errors.js'
import { makeFolder } from '../footage/write/make-folder.js'
import type { OnProgress } from '../progress.js'
import { type Frame, frame as toFrame } from '../raster/frame.js'
import { accountFor, frameName, marketAccountFor, momentsOf, neutralStops } from './account.js'
import { encodeMask, encodePlate, refuseExisting, writeWhole } from './files.js'
import { boxSvg, drawMask, type Outline, PORTER_OUTLINE, SHOPPER_OUTLINE } from './masks.js'
import { type MomentName, momentShare } from './moments.js'
import { expose } from './sensor.js'
import { allTakes, Shoot } from './shoot.js'
import { STAGE_HEIGHT, STAGE_WIDTH } from './stage.js'
import { timeOf } from './story.js'
import {
  type LeftOut,
  MARKET_DEFAULTS,
  type MarketTruth,
  type PlateTruth,
  SCENE_DEFAULTS,
  type Scene,
  type SceneOptions,
  type SceneTruth,
} from './truth.js'

export type {
  LeftOut,
  MarketTruth,
  PlateTruth,
  SceneOptions,
  SceneTruth,
} from './truth.js'

/** Frames being compressed at once: the next one is rendered meanwhile. */
const ENCODING_AT_ONCE = 3
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
  care: RenderCare = {},
): Promise<SceneTruth> {
  const truth = sceneTruth(options)
  const { hide } = truth
  await renderPlate(folder, truth, care, async () => {
    const { width, height } = truth.plate
    for (const at of momentsOf(hide, sceneOf(truth))) {
      const mask = drawMask(PORTER_OUTLINE, width, height, [at])
      await writeWhole(join(folder, frameName(hide.mask, at.number)), await encodeMask(mask, width, height))
    }
    await writeStill(folder, PORTER_OUTLINE, truth)
    for (const moment of [truth.shadow, truth.reflection])
      await writeWhole(join(folder, moment.mask), boxSvg(width, height, moment.box))
  })
  return truth
}

/**
 * Renders the quay on market day and writes `plate/market.####.png`, `mask/shopper.png` and `truth.json`, as renderScene.
 */
export async function renderMarket(
  folder: string,
  options: SceneOptions = {},
  care: RenderCare = {},
): Promise<MarketTruth> {
  const truth = marketTruth(options)
  await renderPlate(folder, truth, care, () => writeStill(folder, SHOPPER_OUTLINE, truth))
  return truth
}

async function renderPlate(
  folder: string,
  truth: SceneTruth | MarketTruth,
  { onProgress, signal, overwrite = false }: RenderCare,
  writeMasks: () => Promise<void>,
): Promise<void> {
  const { first, frames, width, height, seed } = truth.options
  await refuseExisting(folder, truth, overwrite)
  signal?.throwIfAborted()
  const shoot = shootOf(sceneOf(truth))
  await makeFolder(join(folder, 'plate'))
  await makeFolder(join(folder, 'mask'))
  await writeMasks()

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
}

/** One mask for the whole range to hide. */
async function writeStill(folder: string, outline: Outline, truth: SceneTruth | MarketTruth): Promise<void> {
  const { width, height } = truth.plate
  const mask = drawMask(outline, width, height, momentsOf(truth.hide, sceneOf(truth)))
  await writeWhole(join(folder, truth.hide.stillMask), await encodeMask(mask, width, height))
}

/** The truth of a plate without rendering it. */
export function sceneTruth(options: SceneOptions = {}): SceneTruth {
  return accountFor(checked({ ...SCENE_DEFAULTS, ...options }))
}

export function marketTruth(options: SceneOptions = {}): MarketTruth {
  return marketAccountFor(checked({ ...MARKET_DEFAULTS, ...options }))
}

/**
 * A frame as it would be without who is to be hidden, porter or shopper (or without what `without` says), free of noise, under the same
 * exposure and sway: linear light RGB, [height, width, 3]. The set is painted on the first call and kept for the next
 * calls with the same options.
 *
 * @param plate  its truth, or the options of the quiet day
 * @param number the frame's number in the plate
 * @param without what to leave out; an empty object leaves everything in
 */
export function cleanFrame(
  plate: PlateTruth | SceneOptions,
  number: number,
  without: LeftOut = { porter: true, shopper: true },
): Frame {
  const full = sceneOf(plate)
  const index = indexOf(number, full)
  const out = new Float32Array(full.width * full.height * 3)
  shootOf(full).frame(index, out, without)
  return toFrame(full.height, full.width, 3, out)
}

/**
 * How much a moment changes the luminance of a grey surface at every pixel of a frame, stops with sign: negative is
 * darker. [height, width, 1]. Whether a pixel shows wall or shutter at all is not asked.
 */
export function momentPicture(plate: SceneTruth | SceneOptions, name: MomentName, number: number): Frame {
  const full = sceneOf(plate)
  const { width, height } = full
  const index = indexOf(number, full)
  const { dx, dy } = allTakes(full)[index]
  const sign = name === 'shadow' ? -1 : 1
  const out = new Float32Array(width * height)
  for (let y = 0, at = 0; y < height; y++) {
    for (let x = 0; x < width; x++, at++) {
      const u = ((x + 0.5 - dx) * STAGE_WIDTH) / width
      const v = ((y + 0.5 - dy) * STAGE_HEIGHT) / height
      out[at] = sign * neutralStops(name, momentShare(name, u, v, timeOf(index, full)))
    }
  }
  return toFrame(height, width, 1, out)
}

let last: Shoot | undefined

/** The set of that scene; the last one is kept, as painting it takes longer than ten frames. */
function shootOf(scene: Scene): Shoot {
  const same = last !== undefined && JSON.stringify(last.scene) === JSON.stringify(scene)
  if (last === undefined || !same) last = new Shoot(scene)
  return last
}

function sceneOf(plate: PlateTruth | SceneOptions): Scene {
  if ('schema' in plate) return { ...checked(plate.options), story: plate.story }
  return { ...checked({ ...SCENE_DEFAULTS, ...plate }), story: 'quay' }
}

function indexOf(number: number, { first, frames }: Required<SceneOptions>): number {
  const index = number - first
  if (!Number.isInteger(index) || index < 0 || index >= frames) {
    throw misuse('frame', `a frame of the plate, ${first} to ${first + frames - 1}`, number)
  }
  return index
}

function checked({ seed, width, height, first, frames }: Required<SceneOptions>): Required<SceneOptions> {
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
