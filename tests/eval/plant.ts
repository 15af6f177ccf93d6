// Plants truth: crops the footage round a region, moves and regrades it frame by frame, keeps the truth of the
// window's frames, then paints an occluder over the region and writes the plate that the search gets to see.
import { mkdir, readFile, rename, rm, writeFile } from 'node:fs/promises'
import { join } from 'node:path'
import pLimit from 'p-limit'
import sharp from 'sharp'
import { grow, intersect, type Rect } from '../../src/raster/rect.js'
import { moved, type Picture } from '../resample.js'
import { type Case, middleOf } from './case.js'
import type { Disturbance } from './disturbance.js'
import { type Footage, readLinear, toDisplay } from './footage.js'
import { MAX_SWAY_PX, type Motion, motionOf, type Variant } from './motion.js'
import { describeMoving } from './moving.js'
import { paintCrowd, paintMover, paintMoverOn } from './occluder.js'
import { labelsLike } from './pick-states.js'
import { type Label, labelFrames, type Window } from './pick-windows.js'
import { regionOn, rides } from './places.js'
import { inRegion } from './region.js'
import { sceneryOf } from './scenery.js'
import { showMoving } from './show-moving.js'
import { chooseStanding, hides, type Standing, standingPainter } from './standing.js'
import { chooseThirds, paintThird } from './thirds.js'
import { isMoving } from './views.js'

/** Goes up when planting changes, so that no stale plate is ever judged. */
export const PLANTING = 6

/** The plate shows this much round the region: surround, reach and taps fit in many times. */
const ROUND_REGION = 112
/** Taps of the resampling filter: many, for frames to keep their noise however they are moved, as no camera blurs it by its sway. */
const TAPS = 8
/** Planted frames are read back far more often than written. */
const COMPRESSION = 2
/** A mask that rides along is drawn a little wider than who is hidden: its edge lies between pixels on all frames but one. */
const WIDER_PX = 1.5

export const plateFolder = (folder: string): string => join(folder, 'plate')
export const takeFolder = (folder: string): string => join(folder, 'take')
export const maskPath = (folder: string): string => join(folder, 'mask.png')
export const framePath = (plate: string, frame: number): string =>
  join(plate, `planted.${String(frame).padStart(4, '0')}.png`)
const sceneryPath = (folder: string, frame: number): string => join(folder, `scenery.${frame}.png`)
const truthPath = (folder: string, frame: number): string => join(folder, `truth.${frame}.png`)
const casePath = (folder: string): string => join(folder, 'case.json')

export function describeCase(
  footage: Footage,
  disturbance: Disturbance,
  window: Window,
  { variant, number, seed }: { variant: Variant; number: number; seed: string },
): Case {
  if (isMoving(variant)) return describeMoving(footage, disturbance, window, { variant, number, seed })
  const id = `${variant}-${number}`
  const inner = { x: 0, y: 0, w: footage.width, h: footage.height }
  const crop = intersect(grow(window.box, ROUND_REGION), grow(inner, -(MAX_SWAY_PX + TAPS + 1)))
  const box = { ...window.box, x: window.box.x - crop.x, y: window.box.y - crop.y }
  // One camera and one light per window, so that variants differ in what they add and in nothing else.
  const motion = motionOf(variant, footage.frames, `${seed} ${number}`)
  const middle = motion[footage.frames.indexOf(middleOf(window))]
  const seen = {
    ...window.box,
    x: window.box.x - Math.round(middle.dx),
    y: window.box.y - Math.round(middle.dy),
  }
  const { frames } = footage
  const labels = labelFrames(disturbance, seen)
  const found =
    variant === 'found' ? labelsLike(disturbance, window.box, frames.indexOf(middleOf(window))) : null
  const empty = frames.filter((_, i) => (found ?? labels)[i] === 'empty')
  const common = { id, variant, window, crop, box, frames, motion, empty }
  if (variant === 'hopeless') return { ...common, labels: frames.map(() => 'disturbed') }
  if (variant === 'never') {
    // Each frame has somebody in some part of the region: none can lend alone.
    return {
      ...common,
      labels: frames.map(() => 'disturbed'),
      thirds: chooseThirds(frames, `${seed} ${number}`),
    }
  }
  if (found !== null) return { ...common, labels: found }
  if (variant !== 'state') return { ...common, labels }
  const isEmpty = labels.map((l) => l === 'empty')
  const standing = chooseStanding(box, window.frames, frames, isEmpty, { number, seed })
  return { ...common, labels: labelsWith(standing, disturbance, seen, crop, frames), standing }
}

/** A frame of another state can lend as little as one with somebody in it; who passes behind the thing is not seen. */
function labelsWith(
  standing: Standing,
  disturbance: Disturbance,
  seen: Rect,
  crop: Rect,
  frames: readonly number[],
): Label[] {
  const behind = labelFrames(disturbance, seen, (x, y) => hides(standing, x - crop.x, y - crop.y))
  return behind.map((label, i) =>
    frames[i] < standing.first || frames[i] > standing.last ? 'disturbed' : label,
  )
}

/** The case as it lies in the folder, or null where it has not been planted to the end. */
export async function isPlanted(folder: string): Promise<boolean> {
  return readFile(casePath(folder)).then(
    () => true,
    () => false,
  )
}

/**
 * Plants several cases in one pass over the footage, so that each of its frames is decoded once. A case's folder appears
 * whole, so that runs may overlap; where another run was faster, its folder stays.
 */
export async function plant(
  footage: Footage,
  cases: readonly { readonly folder: string; readonly planted: Case }[],
  onFrame: (done: number, total: number) => void,
): Promise<void> {
  const unfinished = (folder: string) => `${folder}.part-${process.pid}`
  for (const { folder, planted } of cases) {
    await rm(unfinished(folder), { recursive: true, force: true })
    await mkdir(plateFolder(unfinished(folder)), { recursive: true })
    if (planted.take !== undefined) await mkdir(takeFolder(unfinished(folder)))
    await writeMask(unfinished(folder), planted)
  }
  const painters = new Map<Case, Painter>()
  for (const { folder, planted } of cases) {
    painters.set(planted, await painterOf(footage, planted))
    if (!rides(planted)) await writeScenery(unfinished(folder), footage, planted)
  }
  const limit = pLimit(2)
  let done = 0
  const one = async (frame: number, index: number) => {
    const whole = await readLinear(footage, frame)
    for (const { folder, planted } of cases)
      await plantFrame(unfinished(folder), planted, whole, frame, index, painters.get(planted)!)
    onFrame(++done, footage.frames.length)
  }
  await Promise.all(footage.frames.map((frame, index) => limit(one, frame, index)))
  for (const { folder, planted } of cases) {
    await writeFile(casePath(unfinished(folder)), JSON.stringify(planted))
    await rename(unfinished(folder), folder).catch(async (error: NodeJS.ErrnoException) => {
      if (error.code !== 'ENOTEMPTY' && error.code !== 'EEXIST') throw error
      await rm(unfinished(folder), { recursive: true })
    })
  }
}

/** Adds to a frame what belongs to its clean plate. */
type Painter = (shown: Picture, frame: number) => void

async function painterOf(
  footage: Footage,
  { id, standing, window, crop }: Case,
  isQuiet = false,
): Promise<Painter> {
  if (standing === undefined) return () => {}
  const last = window.frames[window.frames.length - 1]
  const clean = await readLinear(footage, middleOf(window), crop)
  // A frame that differs from itself by nothing tells of no grain.
  const another = isQuiet ? clean : await readLinear(footage, last, crop)
  return standingPainter(standing, clean, another, id)
}

/** What the window's frames show without noise, each moved and lit as it is. */
async function writeScenery(folder: string, footage: Footage, planted: Case): Promise<void> {
  const { window, crop, box, frames, motion } = planted
  const scenery = await sceneryOf(footage, planted)
  const addToPlate = await painterOf(footage, planted, true)
  for (const frame of window.frames) {
    const shown = showStill(scenery, crop, motion[frames.indexOf(frame)], box)
    addToPlate(shown, frame)
    await writePng(sceneryPath(folder, frame), shown)
  }
}

async function plantFrame(
  folder: string,
  planted: Case,
  whole: Picture,
  frame: number,
  index: number,
  addToPlate: Painter,
): Promise<void> {
  const { id, crop, box, variant, window, motion, take, thirds } = planted
  if (take?.frames.includes(frame)) {
    await writePng(framePath(takeFolder(folder), frame), showMoving(whole, planted, index))
    return
  }
  const shown = rides(planted)
    ? showMoving(whole, planted, index)
    : showStill(whole, crop, motion[index], box)
  addToPlate(shown, frame)
  if (window.frames.includes(frame)) await writePng(truthPath(folder, frame), shown)
  if (rides(planted)) {
    // Who hides the region in the take to repair stands there in all of it.
    if (window.frames.includes(frame) || take !== undefined) {
      const hidden = regionOn(planted, frame, WIDER_PX)
      paintMoverOn(shown, hidden.pixels, hidden.box, frame, id)
    }
  } else if (window.frames.includes(frame)) {
    paintMover(shown, box, frame, id)
  } else if (variant === 'hopeless') {
    paintCrowd(shown, box, frame, id)
  } else if (thirds !== undefined) {
    paintThird(shown, box, thirds, index, id)
  }
  await writePng(framePath(plateFolder(folder), frame), shown)
}

function showStill(whole: Picture, crop: Rect, { stops, dx, dy, lean }: Motion, box: Rect): Picture {
  const rect = { left: crop.x, top: crop.y, width: crop.w, height: crop.h }
  const shown = moved(whole, rect, dx, dy, 'lanczos8')
  const gain = 2 ** stops
  if (gain !== 1) for (let i = 0; i < shown.data.length; i++) shown.data[i] *= gain
  if (lean === undefined) return shown
  const side = Math.max(box.w, box.h)
  for (let y = 0, i = 0; y < shown.height; y++) {
    const down = (lean[1] * (y - box.y - box.h / 2)) / side
    for (let x = 0; x < shown.width; x++) {
      const light = 2 ** (down + (lean[0] * (x - box.x - box.w / 2)) / side)
      for (let c = 0; c < 3; c++, i++) shown.data[i] *= light
    }
  }
  return shown
}

async function writePng(path: string, { width, height, data }: Picture): Promise<void> {
  const codes = new Uint16Array(data.length)
  for (let i = 0; i < data.length; i++) codes[i] = Math.round(65535 * toDisplay(data[i]))
  await sharp(codes, { raw: { width, height, channels: 3 } })
    .toColourspace('rgb16')
    .png({ compressionLevel: COMPRESSION })
    .toFile(path)
}

async function writeMask(folder: string, { crop, box }: Case): Promise<void> {
  const mask = new Uint8Array(crop.w * crop.h)
  for (let y = 0; y < box.h; y++) {
    for (let x = 0; x < box.w; x++) if (inRegion(box, x, y)) mask[(box.y + y) * crop.w + box.x + x] = 255
  }
  await sharp(mask, { raw: { width: crop.w, height: crop.h, channels: 1 } })
    .toColourspace('b-w')
    .png()
    .toFile(maskPath(folder))
}

/** Display-encoded truth of a window's frame, RGB 0 to 1, the plate's size. */
export function readTruth(folder: string, frame: number): Promise<Picture> {
  return readDisplay(truthPath(folder, frame))
}

/** The same without noise. */
export function readScenery(folder: string, frame: number): Promise<Picture> {
  return readDisplay(sceneryPath(folder, frame))
}

async function readDisplay(path: string): Promise<Picture> {
  const { data, info } = await sharp(path)
    .toColourspace('rgb16')
    .raw({ depth: 'ushort' })
    .toBuffer({ resolveWithObject: true })
  const codes = new Uint16Array(data.buffer, data.byteOffset, data.length / 2)
  return { width: info.width, height: info.height, data: Float32Array.from(codes, (c) => c / 65535) }
}
