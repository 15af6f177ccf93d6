// What a thread does for the desk's pictures: reads frames into proxies, and shows proxies and rectangles of frames.
import { createHash } from 'node:crypto'
import type { MessagePort } from 'node:worker_threads'
import { openPlate, type Plate, readRect } from '../../footage/plate.js'
import { readHalves } from '../../footage/read-halves.js'
import { Workspace } from '../../kernels/workspace.js'
import { type Frame, frame } from '../../raster/frame.js'
import { halvesToFloats } from '../../raster/half.js'
import type { Rect } from '../../raster/rect.js'
import { proxyFactor } from '../proxy-size.js'
import { sentenceOf } from '../refused.js'
import { type ProxyPicture, proxyOf } from './proxy.js'
import { encodePicture, type Shown, viewingFor } from './shown.js'
import { movement, type SmallLight, smallLight } from './small-light.js'

/** What a thread opens a plate by. */
export interface PlateKey {
  readonly spec: string
  readonly encoding: string
  readonly layer?: string
}

interface ReadTask {
  readonly kind: 'read'
  readonly plate: PlateKey
  readonly frames: readonly number[]
  /** Takes a ReadFrame of each as it comes, and null after the last. */
  readonly port: MessagePort
}

export type ReadFrame =
  | {
      readonly frame: number
      readonly proxy: ProxyPicture
      readonly small: SmallLight
      readonly print: string
    }
  | { readonly frame: number; readonly proxy?: undefined; readonly code: string; readonly message: string }

interface ShowTask {
  readonly kind: 'show'
  readonly plate: PlateKey
  readonly proxy: ProxyPicture
  /** Part of the proxy, its pixels; null: all. */
  readonly part: Rect | null
  readonly shown: Shown
}

interface RectTask {
  readonly kind: 'rect'
  readonly plate: PlateKey
  readonly frame: number
  /** Plate pixels. */
  readonly rect: Rect
  readonly shown: Shown
}

interface MovedTask {
  readonly kind: 'moved'
  readonly before: SmallLight
  readonly after: SmallLight
}

export type PictureTask = ReadTask | ShowTask | RectTask | MovedTask

/** Of this thread. */
const workspace = new Workspace()

/** @returns a JPEG; of a `moved` a number; nothing of what is sent over a port, or can't be told */
export async function answerTo(task: PictureTask): Promise<Uint8Array | number | null> {
  switch (task.kind) {
    case 'moved':
      return movement(workspace, task.before, task.after)
    case 'read':
      await readFrames(task)
      return null
    case 'show':
      return show(await open(task.plate), pictureOf(task.proxy, task.part), task.shown)
    case 'rect': {
      const plate = await open(task.plate)
      return show(plate, await readRect(plate, task.frame, task.rect), task.shown)
    }
  }
}

const MAX_OPEN = 12
const opened = new Map<string, Promise<Plate>>()

function open({ spec, encoding, layer }: PlateKey): Promise<Plate> {
  const key = JSON.stringify([spec, encoding, layer])
  const known = opened.get(key)
  if (known !== undefined) return known
  const plate = openPlate(spec, { encoding, ...(layer === undefined ? {} : { layer }) })
  // Frames may have been added, and what failed may be mended, when it is asked for again.
  plate.catch(() => opened.delete(key))
  opened.set(key, plate)
  for (const oldest of opened.keys()) {
    if (opened.size <= MAX_OPEN) break
    opened.delete(oldest)
  }
  return plate
}

async function readFrames({ plate: key, frames, port }: ReadTask): Promise<void> {
  try {
    const plate = await open(key)
    const { width, height } = plate
    const factor = proxyFactor(width)
    const tell = (read: ReadFrame) => port.postMessage(read)
    for await (const { frame: number, picture, error } of readHalves(plate, frames, {
      x: 0,
      y: 0,
      w: width,
      h: height,
    })) {
      if (picture === undefined) {
        tell({ frame: number, ...sentenceOf(error) })
        continue
      }
      const proxy = proxyOf(workspace, picture, width, height, factor)
      tell({ frame: number, proxy, small: smallLight(workspace, proxy), print: printOf(proxy.halves) })
    }
  } finally {
    port.postMessage(null)
  }
}

function pictureOf({ width, height, halves }: ProxyPicture, part: Rect | null): Frame {
  const { x, y, w, h } = part ?? { x: 0, y: 0, w: width, h: height }
  const picture = frame(h, w, 3)
  for (let row = 0; row < h; row++) {
    const from = 3 * ((y + row) * width + x)
    halvesToFloats(halves.subarray(from, from + 3 * w), picture.data.subarray(3 * row * w))
  }
  return picture
}

async function show(plate: Plate, picture: Frame, shown: Shown): Promise<Uint8Array> {
  return encodePicture(await viewingFor(plate, shown.look), picture, shown)
}

/** The same for equal pictures only: one grain of noise changes it. */
function printOf({ buffer, byteOffset, byteLength }: Uint16Array): string {
  return createHash('sha1')
    .update(new Uint8Array(buffer, byteOffset, byteLength))
    .digest('base64')
}
