// What was asked, checked against the footage: frames, masks, sizes and numbers.
import { KEEP, type MaskFit, REACH_PX, SURROUND_PX } from '../defaults.js'
import { misuse, OffcutError, option } from '../errors.js'
import { parseFrames, printFrames } from '../footage/frames.js'
import type { Plate } from '../footage/plate.js'
import type { Rect } from '../raster/rect.js'
import { boxMask, loadMasks, type Mask } from '../region/mask.js'
import type { FrameKey } from './frame-key.js'
import { namesApart } from './names-apart.js'

export function targetFrames(plate: Plate, asked: string | readonly number[]): number[] {
  const frames = typeof asked === 'string' ? parseFrames(asked) : [...new Set(asked)].sort((a, b) => a - b)
  const there = new Set(plate.frames)
  const absent = frames.filter((f) => !there.has(f))
  if (frames.length === 0) throw misuse('`frames`', 'at least one frame', '')
  if (absent.length > 0) {
    const isGap = absent.every((f) => f > plate.first && f < plate.last)
    const [one, many] = isGap ? ['is missing from', 'are missing from'] : ['lies outside', 'lie outside']
    const what = absent.length > 1 ? `frames ${printFrames(absent)} ${many}` : `frame ${absent[0]} ${one}`
    const left = frames.filter((f) => there.has(f))
    const such = left.length > 0 ? `, such as ${printFrames(left).replaceAll(' ', '')}` : ''
    throw new OffcutError(
      'FRAMES_OUTSIDE',
      `${what} ${plate.name}, which has ${printFrames(plate.frames)}: choose ${option('frames')} within it${such}`,
      2,
    )
  }
  return frames
}

/** @throws MISUSE where a layer is named and no plate's format has any, so that it would be passed over */
export function checkLayer(plates: readonly Plate[], layer: string | undefined): void {
  if (layer !== undefined && plates.every(({ info }) => info.layers === undefined))
    throw misuse(option('layer'), 'effect on EXR only', plates.map(({ name }) => name).join(', '))
}

/**
 * Frames that may lend, in order of plate and frame.
 *
 * @throws MISUSE, FRAMES_OUTSIDE where an option names no frame that is there, or none is left
 */
export function donorFrames(
  plates: readonly Plate[],
  asked: {
    readonly donorFrames?: string | readonly number[]
    readonly notFrames?: string | readonly number[]
  },
): FrameKey[] {
  const all = plates.flatMap(({ frames }, plate) => frames.map((frame) => ({ plate, frame })))
  const has = () => {
    const names = namesApart(plates)
    return plates.map(({ frames }, k) => `${names[k]} has ${printFrames(frames)}`).join('; ')
  }
  const named = (name: 'donorFrames' | 'notFrames'): ReadonlySet<number> | null => {
    const frames = asked[name]
    if (frames === undefined) return null
    const numbers = new Set(typeof frames === 'string' ? parseFrames(frames, option(name)) : frames)
    if (all.some(({ frame }) => numbers.has(frame))) return numbers
    throw new OffcutError('FRAMES_OUTSIDE', `${option(name)} names no frame that is there: ${has()}`, 2)
  }
  const wanted = named('donorFrames')
  const barred = named('notFrames')
  const keys = all.filter(({ frame }) => (wanted?.has(frame) ?? true) && !barred?.has(frame))
  if (keys.length > 0) return keys
  throw new OffcutError(
    'FRAMES_OUTSIDE',
    `${option('notFrames')} leaves no frame that may lend: ${has()}; bar fewer`,
    2,
  )
}

/**
 * The mask of every frame; of one that is drawn on a certain frame the same for all.
 *
 * @param onNote as loadMasks has it
 * @throws MISUSE unless one of mask and box is given; FRAMES_OUTSIDE where `maskAt` is no frame of the plate; as loadMasks
 */
export async function masksOf(
  { mask, box, maskAt }: { readonly mask?: string; readonly box?: Rect; readonly maskAt?: number },
  plate: Plate,
  frames: readonly number[],
  fit: MaskFit,
  onNote?: (sentence: string) => void,
): Promise<ReadonlyMap<number, Mask>> {
  if ((mask === undefined) === (box === undefined)) {
    throw misuse(
      '`mask`',
      'a mask file or sequence, or `box` instead, one of the two',
      mask === undefined ? 'neither' : 'both',
    )
  }
  if (maskAt !== undefined && !plate.frames.includes(maskAt)) {
    throw new OffcutError(
      'FRAMES_OUTSIDE',
      `${option('maskAt')} names frame ${maskAt}, and ${plate.name} has ${printFrames(plate.frames)}: name the frame that the mask was drawn on`,
      2,
    )
  }
  if (mask !== undefined && maskAt !== undefined) {
    const drawn = (await loadMasks(mask, plate, [maskAt], fit, onNote)).get(maskAt)!
    return new Map(frames.map((f) => [f, drawn]))
  }
  if (mask !== undefined) return loadMasks(mask, plate, frames, fit, onNote)
  const made = boxMask(box!, plate)
  return new Map(frames.map((f) => [f, made]))
}

/** A narrower ring has no texture to judge by. */
const MIN_SURROUND_PX = 2

export interface Numbers {
  readonly reach: number
  readonly surround: number
}

/**
 * What was asked for, with the defaults for what was not. A default gives way on a plate that is too small for it, as
 * nobody asked for it; a number that was asked for does not.
 *
 * @throws MISUSE with the range that the plate allows
 */
export function numbersOf(plate: Plate, asked: Partial<Numbers>): Numbers {
  const most = Math.floor(Math.min(plate.width, plate.height) / 2)
  const {
    reach = Math.min(REACH_PX, most),
    surround = Math.max(MIN_SURROUND_PX, Math.min(SURROUND_PX, most)),
  } = asked
  if (!Number.isInteger(reach) || reach < 0 || reach > most) {
    throw misuse('`reach`', `whole pixels from 0 to ${most} on this plate of ${sizeOf(plate)}`, reach)
  }
  const widest = Math.max(MIN_SURROUND_PX, most)
  if (!Number.isInteger(surround) || surround < MIN_SURROUND_PX || surround > widest) {
    const range = `${MIN_SURROUND_PX} to ${widest}`
    throw misuse('`surround`', `whole pixels from ${range} on this plate of ${sizeOf(plate)}`, surround)
  }
  return { reach, surround }
}

/** Candidates to keep. @throws MISUSE */
export function keepOf(keep: number = KEEP): number {
  if (!Number.isInteger(keep) || keep < 1) throw misuse('`keep`', 'a whole number from 1 up', keep)
  return keep
}

function sizeOf({ width, height }: Plate): string {
  return `${width} x ${height}`
}
