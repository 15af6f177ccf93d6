// A candidate onto disk: a patch with alpha to lay over the plate, or the whole repaired frames.
import { join } from 'node:path'
import sharp from 'sharp'
import { encodeInPlace } from '../colour/transfer.js'
import type { PatchFormat } from '../defaults.js'
import { dataWindowOf } from '../footage/data-window.js'
import type { ExrMetadata } from '../footage/exr/attributes.js'
import { type Plate, readAlpha, readCodeRect, readStoredBlocks, toLinear } from '../footage/plate.js'
import { writeExr, writeExrOver, ZIP_ROWS } from '../footage/write/exr.js'
import { writeWhole } from '../footage/write/file.js'
import { writePng16, writeTiff16 } from '../footage/write/still.js'
import type { OnProgress } from '../progress.js'
import { type Frame, frame } from '../raster/frame.js'
import { boundsOf, type Rect, unite } from '../raster/rect.js'
import type { Candidate, FrameMatch } from '../search/result.js'
import type { PatchFinish } from './finish/finish.js'
import { FinishMeter } from './finish/meter.js'
import { withFootage } from './footage.js'
import { provenanceOf } from './hand-over/provenance.js'
import type { DonorSharpness } from './hide/donor-sharpness.js'
import { HidePass } from './hide/hide-pass.js'
import { grainBeside } from './hide/plate-grain.js'
import { type SeenOfFrame, seenOf } from './hide/seen-of-frame.js'
import { makeThenWrite } from './make-then-write.js'
import type { RepairedFrame, RepairJob, RepairOptions } from './repair.js'

export interface WriteOptions extends RepairOptions {
  /** Of a patch: half-float EXR in linear light, or 16-bit PNG in the plate's encoding. Whole frames follow the plate. */
  readonly format?: PatchFormat
  /** The repaired full frames instead of the patch. */
  readonly whole?: boolean
  /**
   * Told of every patch that is brighter than its PNG or TIFF can hold, which is clipped.
   *
   * @param most its largest code value; 1 is full
   */
  readonly onClipped?: (frame: number, most: number) => void
  /** Told once what the written frames look like. */
  readonly onFinish?: (finish: PatchFinish) => void
  /** Told in order of the frames what was seen of each while it was made. */
  readonly onSeen?: (frame: number, seen: SeenOfFrame) => void
  /** Told before the first frame of how the donors' sharpness differs from the plate's. */
  readonly onSharpness?: (sharpness: DonorSharpness) => void
  readonly onProgress?: OnProgress
  readonly signal?: AbortSignal
}

/**
 * Writes a frame for each target frame into an empty folder; where the mask is black, a clear patch or the plate's frame.
 *
 * @returns the files' names, in order
 */
export async function writeCandidate(
  job: RepairJob,
  candidate: Candidate,
  folder: string,
  options: WriteOptions = {},
): Promise<string[]> {
  return withFootage(job, [candidate], options, () => writeFrames(job, candidate, folder, options))
}

async function writeFrames(
  job: RepairJob,
  candidate: Candidate,
  folder: string,
  {
    format = 'exr',
    whole = false,
    onClipped,
    onFinish,
    onSharpness,
    onSeen,
    onProgress,
    signal,
    ...repair
  }: WriteOptions,
): Promise<string[]> {
  const pass = new HidePass(job, candidate, repair)
  onSharpness?.(await pass.sharpness())
  const model = onSeen ? await grainBeside(job) : null
  const meter = onFinish === undefined ? null : await FinishMeter.over(job)
  const frames = framesToWrite(job, candidate)
  const ending = whole ? wholeEnding(job.target) : format
  const nameOf = (target: number) => frameName(job.target, target, whole ? 'repaired' : 'patch', ending)
  const brightest = new Map<number, number>()
  let done = 0
  await makeThenWrite(
    frames,
    async ({ match }): Promise<Laid> => {
      signal?.throwIfAborted()
      if (match === undefined) return untouchedFrame(job)
      const made = await pass.repair(match)
      meter?.add(match.target, made)
      onSeen?.(match.target, seenOf(job, candidate, match, made, model))
      return made
    },
    async (made, { target, match }) => {
      const strings = provenanceOf(job, candidate, match)
      const path = join(folder, nameOf(target))
      brightest.set(target, await writeLaid(job.target, target, made, path, { whole, format, strings }))
      onProgress?.({ phase: 'writing', done: ++done, total: frames.length })
    },
  )
  signal?.throwIfAborted()
  if (meter) onFinish!(meter.done())
  for (const { target } of frames) {
    const most = brightest.get(target) ?? 0
    if (most > 1) onClipped?.(target, most)
  }
  return frames.map(({ target }) => nameOf(target))
}

/** The candidate's frames and, in their places, those whose mask is black: a sequence with holes plays wrongly. */
export function framesToWrite(
  { result }: RepairJob,
  candidate: Candidate,
): { readonly target: number; readonly match?: FrameMatch }[] {
  const black = (result.region.empty ?? []).map((target) => ({ target }))
  const matched = candidate.frames.map((match) => ({ target: match.target, match }))
  return [...matched, ...black].sort((a, b) => a.target - b.target)
}

/** Nothing to lay over a frame. */
export function untouchedFrame({ region: { window } }: RepairJob): Laid {
  const none = frame(window.h, window.w, 3)
  return { rect: window, patch: none, repaired: none, alpha: new Float32Array(window.w * window.h) }
}

/** `quay_patch.1060.exr` for frame 1060 of `quay.####.png`: the plate's own numbering, so that both line up. */
export function frameName(plate: Plate, frameNumber: number, what: string, ending: string): string {
  return `${plate.stem}_${what}.${plate.numberOf(frameNumber)}.${ending}`
}

/** What is laid over a frame. */
export type Laid = Pick<RepairedFrame, 'rect' | 'patch' | 'repaired' | 'alpha'>

/**
 * Writes a frame: a patch, or the plate's own with it laid over.
 *
 * @returns the largest code value of a patch as PNG or TIFF, before it is clipped to 1; else 0
 */
export async function writeLaid(
  plate: Plate,
  target: number,
  made: Laid,
  path: string,
  {
    whole,
    format,
    strings,
  }: { readonly whole: boolean; readonly format: PatchFormat; readonly strings?: ExrMetadata['strings'] },
): Promise<number> {
  if (!whole) return writePatch(plate, target, made, path, format, strings)
  await writeRepaired(plate, target, made, path, strings)
  return 0
}

/** @returns the largest code value of a PNG or TIFF, before it is clipped to 1; 0 for an EXR, which clips nothing */
async function writePatch(
  plate: Plate,
  target: number,
  made: Laid,
  path: string,
  format: PatchFormat,
  strings?: ExrMetadata['strings'],
): Promise<number> {
  const { rect, patch, alpha } = made
  const rgba = frame(rect.h, rect.w, 4)
  if (format !== 'exr') {
    // PNG's alpha is straight (ISO/IEC 15948, 12.5), the TIFF follows it; 16-bit codes want the plate's encoding.
    const codes = patch.data.slice()
    encodeInPlace(codes, plate.encoding)
    const full = frame(plate.height, plate.width, 4)
    let most = 0
    for (let y = 0, i = 0; y < rect.h; y++) {
      let to = ((rect.y + y) * plate.width + rect.x) * 4
      for (let x = 0; x < rect.w; x++, i++, to += 4) {
        if (alpha[i] === 0) continue
        for (let c = 0; c < 3; c++) {
          full.data[to + c] = codes[3 * i + c]
          most = Math.max(most, codes[3 * i + c])
        }
        full.data[to + 3] = alpha[i]
      }
    }
    await (format === 'png' ? writePng16 : writeTiff16)(path, full)
    return most
  }
  for (let i = 0; i < alpha.length; i++) {
    if (alpha[i] === 0) continue
    for (let c = 0; c < 3; c++) rgba.data[4 * i + c] = patch.data[3 * i + c] * alpha[i]
    rgba.data[4 * i + 3] = alpha[i]
  }
  const header = await carried(plate, target)
  const { x, y } = header.displayWindow
  await writeExr(path, rgba, { ...header, strings, origin: { x: rect.x + x, y: rect.y + y } })
  return 0
}

export function wholeEnding(plate: Plate): 'png' | 'exr' {
  return ['png', 'tif', 'tiff', 'jpg', 'jpeg'].includes(plate.format) && plate.bitDepth.endsWith('-bit')
    ? 'png'
    : 'exr'
}

/**
 * The plate's own values with the patch laid over them; where its alpha is 0 they are not touched.
 *
 * @param strings of an EXR's header
 */
export async function writeRepaired(
  plate: Plate,
  target: number,
  made: Laid,
  path: string,
  strings?: ExrMetadata['strings'],
): Promise<void> {
  const stills = path.endsWith('.png')
  // Decoded code values need more than a half's 11 bits to come out as they went in.
  const pixelType = plate.bitDepth === 'half' && plate.encoding === 'linear' ? 'half' : 'float'
  const stored = pixelType === 'half' && !stills ? await readStoredBlocks(plate, target) : null
  const rect = stills
    ? display(plate)
    : stored === null
      ? await pictureWith(made, plate, target)
      : blocksUnder(made, plate)
  const whole = await laidOver(plate, target, made, rect, stills)
  if (stills) {
    if (plate.bitDepth === '8-bit') await writePng8(path, whole)
    else await writePng16(path, whole)
    return
  }
  const header = { ...(await carried(plate, target)), strings, nonFinite: 'keep' } as const
  const { x, y } = header.displayWindow
  if (stored !== null) await writeExrOver(path, stored, whole, rect.y / ZIP_ROWS, header)
  else await writeExr(path, whole, { ...header, pixelType, origin: { x: rect.x + x, y: rect.y + y } })
}

/** All that the plate's own file has, and where a patch lies beside that: what neither has is handed on as neither has it. */
async function pictureWith({ rect, alpha }: Laid, plate: Plate, target: number): Promise<Rect> {
  const own = await dataWindowOf(plate, target)
  const laid = boundsOf(alpha, rect.w)
  return laid === null ? own : unite(own, { ...laid, x: rect.x + laid.x, y: rect.y + laid.y })
}

/** The rows of whole blocks that a patch lies on; the first block where it lies nowhere. */
function blocksUnder({ rect, alpha }: Laid, plate: Plate): Rect {
  const { y, h } = boundsOf(alpha, rect.w) ?? { y: -rect.y, h: 1 }
  const top = Math.floor((rect.y + y) / ZIP_ROWS) * ZIP_ROWS
  const bottom = Math.min(plate.height, Math.ceil((rect.y + y + h) / ZIP_ROWS) * ZIP_ROWS)
  return { x: 0, y: top, w: plate.width, h: bottom - top }
}

/** A part of the plate's own values with the patch over them, all of it or where it lies: as a PNG stores them, or as linear light. */
async function laidOver(
  plate: Plate,
  target: number,
  made: Laid,
  part: Rect,
  stills: boolean,
): Promise<Frame> {
  const repaired = stills ? made.repaired.data.slice() : made.repaired.data
  if (stills) encodeInPlace(repaired, plate.encoding)
  // As stored, not as readRect has it: bars stay bars, and outside a data window stays black.
  const [colours, alphaOf] = await Promise.all([
    readCodeRect(plate, target, part),
    readAlpha(plate, target, part),
  ])
  if (!stills) toLinear(plate, colours)
  // PNG's alpha is straight (ISO/IEC 15948, 12.5): beside colours that are multiplied by theirs it would be wrong.
  const own = alphaOf !== null && !(stills && alphaOf.associated) ? alphaOf.data : null
  const whole = own === null ? colours : withAlpha(colours, own)
  const channels = whole.shape[2]
  const { rect, alpha } = made
  for (let y = 0, i = 0; y < rect.h; y++) {
    let to = ((rect.y - part.y + y) * part.w + rect.x - part.x) * channels
    for (let x = 0; x < rect.w; x++, i++, to += channels) {
      if (alpha[i] === 0) continue
      for (let c = 0; c < 3; c++) whole.data[to + c] = repaired[3 * i + c]
    }
  }
  return whole
}

function withAlpha({ data, shape: [height, width] }: Frame, alpha: Readonly<Float32Array>): Frame {
  const out = frame(height, width, 4)
  for (let i = 0; i < alpha.length; i++) {
    for (let c = 0; c < 3; c++) out.data[4 * i + c] = data[3 * i + c]
    out.data[4 * i + 3] = alpha[i]
  }
  return out
}

async function writePng8(path: string, codes: Frame): Promise<void> {
  const bytes = new Uint8ClampedArray(codes.data.length)
  for (let i = 0; i < bytes.length; i++) bytes[i] = codes.data[i] * 255
  const [height, width] = codes.shape
  const channels = codes.shape[2] === 4 ? 4 : 3
  await writeWhole(path, await sharp(bytes, { raw: { width, height, channels } }).png().toBuffer())
}

function display(plate: Plate): Rect {
  return { x: 0, y: 0, w: plate.width, h: plate.height }
}

/** What a patch takes over from its target frame's header, so that both open alike. */
export async function carried(
  plate: Plate,
  target: number,
): Promise<ExrMetadata & { readonly displayWindow: Rect }> {
  const header = await plate.headerOf(target)
  const { pixelAspect, framesPerSecond, timeCode, chromaticities } = header
  // Footage whose header counts no frames is counted by its file names.
  const { displayWindow = display(plate), imageCounter = target } = header
  return { pixelAspect, framesPerSecond, timeCode, chromaticities, imageCounter, displayWindow }
}
