// Masks from disk or from a box: which pixels are to be replaced, 0 to 1 per plate pixel.
import { stat } from 'node:fs/promises'
import { extname, resolve } from 'node:path'
import type { MaskFit } from '../defaults.js'
import { misuse, OffcutError, option, plateError, printable } from '../errors.js'
import { printFrames } from '../footage/frames.js'
import { openPlate, type Plate } from '../footage/plate.js'
import { FRAME_EXTENSIONS } from '../footage/readers.js'
import { cutSamples } from '../raster/plane.js'
import { boundsOf, intersect, isEmpty, type Rect, unite } from '../raster/rect.js'
import { drawnSequence, type MaskFiles } from './drawn-sequence.js'
import { type MaskPicture, readMask, type Size, scaled } from './mask-picture.js'

/** A mask over one frame, cut down to where it is not 0. */
export interface Mask {
  readonly rect: Rect
  /** 0 to 1, row-major over `rect`. */
  readonly data: Float32Array
}

/** A plate as its masks need it: how large it is, and its frames, by which a sequence's numbers are told. */
type Beneath = Size & Partial<Pick<Plate, 'name' | 'frames'>>

/** Two sizes whose aspect ratios differ by less than this are taken as a scale of each other. */
const SAME_ASPECT = 0.01

/**
 * A box as a mask. Unlike a shape that is drawn, which may well leave the frame with what it hides, a box that does is
 * taken for a slip: nothing of it is cut off in silence.
 *
 * @param flag named where the box is refused
 * @throws MISUSE where it does not lie inside the plate or has no area, with the part of it that does
 */
export function boxMask(box: Rect, plate: Size, flag = '`box`'): Mask {
  const rect = intersect(box, { x: 0, y: 0, w: plate.width, h: plate.height })
  const wanted = `x,y,w,h in whole pixels inside the plate's ${plate.width} x ${plate.height}`
  if (![box.x, box.y, box.w, box.h].every(Number.isInteger) || isEmpty(box) || isEmpty(rect)) {
    throw misuse(flag, wanted, printBox(box))
  }
  if (rect.w !== box.w || rect.h !== box.h)
    throw misuse(flag, `${wanted} (${printBox(rect)} is this box's part inside)`, printBox(box))
  return { rect, data: new Float32Array(rect.w * rect.h).fill(1) }
}

function printBox({ x, y, w, h }: Rect): string {
  return `${x},${y},${w},${h}`
}

/**
 * Loads the mask of every target frame: a still (also SVG in plate pixels) serves all of them, a sequence has one each.
 *
 * @param spec a still, an SVG, or a sequence named as a plate is, also of SVGs by their folder or pattern
 * @param onNote told of masks whose numbers may be off, and of a still that may be meant as one of a sequence
 * @returns a mask per frame; frames that share a still share the object
 * @throws MASK_NOT_FOUND, MASK_SIZE, MASK_EMPTY, MASK_FRAME_MISSING, MASK_UNREADABLE, MASK_AMBIGUOUS
 */
export async function loadMasks(
  spec: string,
  plate: Beneath,
  frames: readonly number[],
  fit: MaskFit = 'same',
  onNote: (sentence: string) => void = () => {},
): Promise<Map<number, Mask>> {
  const sequence = await sequenceAt(spec, plate, frames, onNote)
  if (sequence !== null) {
    const masks = await loadSequence(sequence, plate, frames, fit)
    const off = offNumbers(sequence, plate)
    if (off !== null) onNote(off)
    return masks
  }
  const path = resolve(spec)
  const still = await loadMask(path, plate, fit)
  if (isEmpty(still.rect)) throw emptyMask(path)
  return new Map(frames.map((f) => [f, still]))
}

/**
 * One numbered file among others of its kind is a frame of a sequence. Alone it is a still, as it is where those count something else
 * than frames, and an SVG always is.
 *
 * @returns null of a still
 * @throws as openSequence
 */
async function sequenceAt(
  spec: string,
  plate: Beneath,
  asked: readonly number[],
  onNote: (sentence: string) => void = () => {},
): Promise<MaskFiles | null> {
  const path = resolve(spec)
  const found = await stat(path).catch(() => null)
  if (!found?.isFile()) return openSequence(spec)
  const sequence = extname(path) === '.svg' ? null : await openPlate(path).catch(() => null)
  if (sequence === null || sequence.frames.length === 1) return null
  if (isMovie(sequence) || countsFrames(sequence, plate, asked)) return sequence
  onNote(
    `${printable(path)} is taken as one still mask, since none of the files beside it is numbered as a frame of the plate (they are ${printFrames(sequence.frames)}): to have them as a sequence, number them as those are`,
  )
  return null
}

function isMovie({ format }: MaskFiles): boolean {
  return ![...FRAME_EXTENSIONS, 'svg'].includes(format)
}

/** A pair of stills is as many as two frames by chance. */
const MANY = 3

/** Whether a sequence may be the plate's: it has a frame of it, or as many as the plate has, or as are asked for. */
function countsFrames({ frames: there }: MaskFiles, { frames }: Beneath, asked: readonly number[]): boolean {
  const known = new Set([...(frames ?? []), ...asked])
  const asMany = there.length >= MANY && [frames, asked].some((f) => f?.length === there.length)
  return asMany || there.some((f) => known.has(f))
}

/**
 * A sentence about masks that are as many as the plate's frames and numbered otherwise, such as from 0 where those begin at 1: each
 * may lie on its neighbour. Null where nothing speaks for it.
 */
function offNumbers({ frames: there }: MaskFiles, { name, frames }: Beneath): string | null {
  if (name === undefined || there.length !== frames?.length || there[0] === frames[0]) return null
  const off = Math.abs(there[0] - frames[0])
  return `the mask has as many files as ${printable(name)} has frames, and is numbered ${printFrames(there)} where those are ${printFrames(frames)}: if they were made for each other every mask lies ${off} frame${off > 1 ? 's' : ''} off, and must be renumbered`
}

/**
 * What of a plate's frames is not to be seen: a sequence's masks for the frames that it has, a still for all.
 *
 * @throws as loadMasks; MASK_FRAME_MISSING where a sequence has none of the plate's frames
 */
export async function loadAvoided(
  spec: string,
  plate: Plate,
  fit: MaskFit = 'same',
): Promise<Map<number, { rect: Rect; bits: Uint8Array }>> {
  const sequence = await sequenceAt(spec, plate, plate.frames)
  const there = new Set(sequence?.frames)
  const frames = sequence === null ? plate.frames : plate.frames.filter((f) => there.has(f))
  // Where none is there, it is said which are, and which were asked for.
  const masks = await loadMasks(spec, plate, frames.length > 0 ? frames : plate.frames, fit)
  const bits = new Map<Mask, { rect: Rect; bits: Uint8Array }>()
  for (const mask of masks.values())
    bits.set(mask, { rect: mask.rect, bits: Uint8Array.from(mask.data, (v) => (v > 0 ? 1 : 0)) })
  return new Map([...masks].map(([frame, mask]) => [frame, bits.get(mask)!]))
}

/** A mask is asked for beside a plate, so what is not there is named as the mask. */
async function openSequence(spec: string): Promise<MaskFiles> {
  try {
    return (await drawnSequence(spec)) ?? (await openPlate(spec))
  } catch (cause) {
    if (!(cause instanceof OffcutError) || cause.code !== 'PLATE_NOT_FOUND') throw cause
    throw new OffcutError('MASK_NOT_FOUND', `the mask ${cause.message}`, 2, { cause })
  }
}

async function loadSequence(
  sequence: MaskFiles,
  plate: Beneath,
  frames: readonly number[],
  fit: MaskFit,
): Promise<Map<number, Mask>> {
  if (isMovie(sequence)) {
    // Not frame by frame: compression blurs a matte's edge, and a movie counts from 1.
    throw plateError(
      'MASK_UNREADABLE',
      sequence.spec,
      'is a movie',
      'render the mask as one still or as numbered frames',
      {
        exitCode: 2,
      },
    )
  }
  const there = new Set(sequence.frames)
  const absent = frames.filter((f) => !there.has(f))
  if (absent.length > 0) {
    throw plateError(
      'MASK_FRAME_MISSING',
      sequence.spec,
      `has no mask for frame${absent.length > 1 ? 's' : ''} ${printFrames(absent)} (it has ${printFrames(sequence.frames)})`,
      absentRemedy(sequence.frames, frames, plate.frames ?? frames),
      { exitCode: 2 },
    )
  }
  const masks = new Map<number, Mask>()
  for (const frame of frames) masks.set(frame, await loadMask(sequence.pathOf(frame), plate, fit))
  if ([...masks.values()].every((m) => isEmpty(m.rect))) throw emptyMask(sequence.spec)
  return masks
}

/**
 * What to do about masks that are not there. Where none of them has a number of the plate's, they are counted otherwise: as
 * the frames of the movie they were made on, say, or from 0.
 */
function absentRemedy(there: readonly number[], asked: readonly number[], plate: readonly number[]): string {
  const numbers = new Set(plate)
  if (there.some((frame) => numbers.has(frame)))
    return 'supply the missing frames, narrow `frames`, or give one still mask, named without a number'
  const same = [plate, asked].find(({ length }) => length === there.length)
  return same === undefined
    ? `number its files as the plate's frames are, which are ${printFrames(plate)}, or give one still mask, named without a number`
    : `it has as many files as ${same === plate ? 'the plate has frames' : 'frames are asked for'}, so number them as those are, ${printFrames(same)}, or give one still mask, named without a number`
}

/** The smallest rectangle round all masks. */
export function unionBox(masks: Iterable<Mask>): Rect {
  let box: Rect = { x: 0, y: 0, w: 0, h: 0 }
  for (const mask of masks) box = unite(box, mask.rect)
  return box
}

async function loadMask(path: string, plate: Size, fit: MaskFit): Promise<Mask> {
  const picture = await readMask(path, plate)
  const { width, height } = picture
  if (width === plate.width && height === plate.height) return cut(picture, 0, 0, plate)
  if (fit === 'centre') {
    return cut(picture, Math.round((plate.width - width) / 2), Math.round((plate.height - height) / 2), plate)
  }
  if (fit === 'scale') return cut(await scaled(picture, plate), 0, 0, plate)
  throw plateError(
    'MASK_SIZE',
    path,
    `is ${width} x ${height}, the plate is ${plate.width} x ${plate.height}`,
    sizeRemedy(picture, plate),
    { exitCode: 2 },
  )
}

/** What to do about a mask of another size; a fit is named only where it is plainly what happened. */
function sizeRemedy(mask: Size, plate: Size): string {
  const full = `supply the mask at the plate's full size`
  const aspect = (mask.width * plate.height) / (mask.height * plate.width)
  if (Math.abs(aspect - 1) < SAME_ASPECT)
    return `it looks like a scale of the plate; add ${option('maskFit')} scale, or ${full}`
  const oneSide = mask.width === plate.width || mask.height === plate.height
  if (oneSide) {
    const even = (plate.width - mask.width) % 2 === 0 && (plate.height - mask.height) % 2 === 0
    // Of an odd number of rows that were cut off, one side has one more, and nothing tells which.
    const about = even ? '' : ' (half a pixel stays open: look at its edge)'
    return `it looks like a centred extraction of the plate; add ${option('maskFit')} centre${about}, or ${full}`
  }
  return full
}

/** Places a picture with its corner at (left, top) and keeps the part of the frame where it is not 0. */
function cut(picture: MaskPicture, left: number, top: number, plate: Size): Mask {
  const { width, height, data } = picture
  const visible = intersect(
    { x: left, y: top, w: width, h: height },
    { x: 0, y: 0, w: plate.width, h: plate.height },
  )
  const part = { ...visible, x: visible.x - left, y: visible.y - top }
  return trimmed(cutMask(data, width, part, visible))
}

/** A mask cut down to where it is not 0; a rectangle of no size where it is 0 everywhere. */
export function trimmed({ rect, data }: Mask): Mask {
  const part = boundsOf(data, rect.w)
  if (part === null) return { rect: { x: 0, y: 0, w: 0, h: 0 }, data: new Float32Array(0) }
  if (part.w === rect.w && part.h === rect.h) return { rect, data }
  return cutMask(data, rect.w, part, { ...part, x: rect.x + part.x, y: rect.y + part.y })
}

/**
 * Part of a picture of weights as a mask.
 *
 * @param width of the picture
 * @param part  in the picture; `rect` is where it lies on the plate
 */
export function cutMask(data: Readonly<Float32Array>, width: number, part: Rect, rect: Rect): Mask {
  return { rect, data: cutSamples(data, { x: 0, y: 0, w: width, h: data.length / width }, part) }
}

function emptyMask(path: string) {
  return plateError(
    'MASK_EMPTY',
    path,
    'is black all over, or clear all over where it has alpha',
    'paint white, opaque, where pixels are to be replaced',
    {
      exitCode: 2,
    },
  )
}
