// Whole frames for the viewer: what lies round the region, on the frames that are looked at first.
import sharp from 'sharp'
import { OffcutError } from '../../errors.js'
import type { HalfRows } from '../../footage/reader.js'
import { codecs } from '../../kernels/codecs.js'
import { halfLight } from '../../kernels/half-light.js'
import { type Frame, frame } from '../../raster/frame.js'
import type { Result } from '../../search/result.js'
import { pictureFile } from '../html/encode.js'
import { shownFrame } from './measures.js'
import type { Show } from './seen.js'
import { shrinkPicture } from './shrink.js'

/**
 * So many at most: each is as heavy as some dozen frames of a region, and takes as long to read. Of a camera that stands what is round
 * about is much the same on all.
 */
const MAX_WHOLES = { moving: 4, standing: 2 }
/** They show what is round about, not the grain: larger ones are brought down to so many pixels. */
const MAX_PIXELS = 1280 * 720
/** On four plates 0.3 to 3 dB nearer than WebP at 82 in a third of its time, and a fifth to a half more bytes. */
const CODING = { format: 'jpeg', quality: 80 } as const

export interface Wholes {
  /** of the frame, in the pixels of the page's other pictures */
  readonly size: readonly [w: number, h: number]
  /** @property file in base64 */
  readonly frames: readonly { readonly frame: number; readonly file: string }[]
}

/**
 * Reads a whole frame in linear light: as halves that `use` takes in where its file has those, and else as floats that nobody
 * else has, [height, width, 3].
 *
 * @returns null where `use` has taken it in
 */
export type ReadWhole = (frame: number, use: HalfRows) => Promise<Frame | null>

export const NO_WHOLES: Wholes = { size: [0, 0], frames: [] }

/** Target frames of which there are whole pictures: those on which the best candidates are looked at first. */
export function wholeFrames({ candidates, camera }: Pick<Result, 'candidates' | 'camera'>): number[] {
  const first = candidates.map((candidate) => candidate.frames[shownFrame(candidate)].target)
  return [...new Set(first)].slice(0, camera === undefined ? MAX_WHOLES.standing : MAX_WHOLES.moving)
}

/**
 * @param factor plate pixels of a side per pixel of the page's other pictures
 */
export async function drawWholes(
  result: Result,
  read: ReadWhole,
  show: Show,
  factor: number,
): Promise<Wholes> {
  const { width: w, height: h } = result.target
  const scale = Math.min(1, Math.sqrt(MAX_PIXELS / (w * h)))
  const size = { w: Math.max(1, Math.round(w * scale)), h: Math.max(1, Math.round(h * scale)) }
  const by = commonFactor(w, h, 1 / scale)
  const frames: { frame: number; file: string }[] = []
  // One after the other: a whole frame may be a hundred megabytes of linear light.
  for (const number of wholeFrames(result)) {
    const near = await shownDown(read, number, w, h, by, show)
    if (near === null) continue
    const small = await sharp(near, { raw: { width: w / by, height: h / by, channels: 3 } })
      .resize(size.w, size.h, { fit: 'fill', kernel: 'lanczos3' })
      .raw()
      .toBuffer()
    const file = await pictureFile(small, size, CODING)
    frames.push({ frame: number, file: file.toString('base64') })
  }
  return { size: [w / factor, h / factor], frames }
}

/**
 * The largest whole number, `most` at most, that divides both: brought down by it in linear light first, the frame is shown
 * pixel by pixel on a part of its pixels only.
 */
function commonFactor(w: number, h: number, most: number): number {
  let by = Math.max(1, Math.floor(most + 1e-9))
  while (w % by !== 0 || h % by !== 0) by--
  return by
}

/** About so many samples are brought down and shown in one go: they stay near the processor. */
const SAMPLES_AT_ONCE = 3 << 20

/**
 * A frame brought down and as it is shown, black where there is no picture; null where it can't be read, which is no reason to
 * have no sheet.
 *
 * @param by divides both sides
 */
async function shownDown(
  read: ReadWhole,
  number: number,
  w: number,
  h: number,
  by: number,
  show: Show,
): Promise<Uint8Array | null> {
  const out = new Uint8Array((3 * w * h) / by ** 2)
  // Whole blocks of any file.
  const rows = 256 * by * Math.max(1, Math.round(SAMPLES_AT_ONCE / (3 * w * 256 * by)))
  const take: HalfRows['take'] = (halves, y) =>
    codecs().within((scratch) => {
      const light = scratch.floats(halves.length / by ** 2)
      halfLight(codecs(), halves, w, by, light)
      out.set(show(frame(light.length / (3 * (w / by)), w / by, 3, light), codecs()), (3 * w * y) / by ** 2)
    })
  const whole = await read(number, { rows, take }).catch((error) => {
    if (error instanceof OffcutError) return undefined
    throw error
  })
  if (whole === undefined) return null
  return whole === null ? out : show(broughtDown(whole, by))
}

/** @param by divides both sides */
function broughtDown(whole: Frame, by: number): Frame {
  // What is no number is shown as black anyway; in a mean it must be black before.
  if (by === 1) return whole
  blacken(whole.data)
  return shrinkPicture(whole, by)
}

function blacken(data: Float32Array): void {
  for (let i = 0; i < data.length; i++) if (Number.isNaN(data[i]!)) data[i] = 0
}
