// What was written is read again, from the disk and by the plate's own readers: whoever opens it next should find no more
// than is said here.
import { join } from 'node:path'
import { OffcutError, writeError } from '../../errors.js'
import { BoundedFile } from '../../footage/bounded-file.js'
import { dataWindowOf } from '../../footage/data-window.js'
import { readHeader } from '../../footage/exr/header.js'
import { printFrames } from '../../footage/frames.js'
import { type Plate, readAlpha, toLinear } from '../../footage/plate.js'
import { readCodeRects } from '../../footage/read-many.js'
import type { Alpha, FrameReader } from '../../footage/reader.js'
import { readerFor } from '../../footage/readers.js'
import type { OnProgress } from '../../progress.js'
import type { Frame } from '../../raster/frame.js'
import { contains, isSameRect, type Rect, relativeTo, unite } from '../../raster/rect.js'
import { featheredAlpha } from '../../region/region.js'
import type { RepairJob } from '../repair.js'
import { FAULTS, patchFaults, ratioFaults, wholeFaults } from './faults.js'
import type { Patch, PatchFrame } from './patch.js'

export interface ReadBackOptions {
  readonly onProgress?: OnProgress
  readonly signal?: AbortSignal
}

/**
 * Reads every frame of a folder once more: size, windows, channels and frame number, finite numbers, alpha from 0 to 1, and
 * beyond the feathered mask nothing (a patch), 1 (a ratio) or the plate's own samples (whole frames).
 *
 * @returns a sentence per kind of fault, with its frames; none where all is as it should be
 * @throws OUTPUT_UNREADABLE where a file can't be read at all, FRAME_UNREADABLE where the plate can't
 */
export async function readBack(
  folder: string,
  job: RepairJob,
  patch: Patch,
  { onProgress, signal }: ReadBackOptions = {},
): Promise<string[]> {
  const checker = new Checker(folder, job, patch)
  const found = new Map<string, number[]>()
  let done = 0
  for await (const { frame, plate } of withPlate(job.target, patch)) {
    signal?.throwIfAborted()
    for (const fault of await checker.check(frame, plate))
      found.set(fault, [...(found.get(fault) ?? []), frame.target])
    onProgress?.({ phase: 'reading back', done: ++done, total: patch.frames.length })
  }
  return [...found].map(([fault, frames]) => {
    const many = frames.length > 1
    return `read back, frame${many ? 's' : ''} ${printFrames(frames.sort((a, b) => a - b))}: ${fault}`
  })
}

/** The frames, of whole ones each with the plate's own: those of a movie come from one stream. */
async function* withPlate(
  target: Plate,
  { frames, what }: Patch,
): AsyncGenerator<{ frame: PatchFrame; plate?: Frame }> {
  if (what === 'patch' || what === 'ratio') {
    for (const frame of frames) yield { frame }
    return
  }
  const of = new Map(frames.map((frame) => [frame.target, frame]))
  for await (const { frame, picture, error } of readCodeRects(target, of.keys(), fullOf(target))) {
    if (error !== undefined) throw error
    yield { frame: of.get(frame)!, plate: picture }
  }
}

class Checker {
  /** What of a file is looked at: a patch's EXR has no more than the window. */
  readonly #rect: Rect
  readonly #open: Uint8Array
  #inside: Float32Array | null = null

  constructor(
    readonly folder: string,
    readonly job: RepairJob,
    readonly patch: Patch,
  ) {
    this.#rect = patch.what === 'patch' && patch.format === 'exr' ? job.region.window : fullOf(job.target)
    this.#open = new Uint8Array(this.#rect.w * this.#rect.h)
  }

  async check(frame: PatchFrame, plate: Frame | undefined): Promise<string[]> {
    const path = join(this.folder, frame.file)
    try {
      const reader = (await readerFor(path))!
      const head = await this.#headFaults(path, reader, frame.target)
      // Samples of another frame size can't be compared.
      if (head.length > 0) return head
      const [colours, alpha] = await Promise.all([
        reader.read(path, this.#rect),
        reader.readAlpha?.(path, this.#rect) ?? null,
      ])
      return this.#sampleFaults(frame, colours, alpha, plate)
    } catch (cause) {
      // Of the plate, not of what was written.
      if (cause instanceof OffcutError) throw cause
      const said = cause instanceof Error ? cause.message : String(cause)
      throw writeError(
        'OUTPUT_UNREADABLE',
        path,
        `can't be read back (${said})`,
        'check the disk and write it again',
        cause,
      )
    }
  }

  async #headFaults(path: string, reader: FrameReader, target: number): Promise<string[]> {
    const { target: plate } = this.job
    const { width, height, imageCounter } = await reader.probe(path)
    if (width !== plate.width || height !== plate.height)
      return [`the file is ${width} x ${height}, the plate ${plate.width} x ${plate.height}`]
    if (this.patch.format !== 'exr') return []
    const { parts } = await BoundedFile.use(path, 'EXR_BAD', readHeader)
    const { displayWindow, dataWindow, channels } = parts[0]!
    const faults: string[] = []
    const own = await plate.headerOf(target)
    const display = own.displayWindow ?? fullOf(plate)
    if (!isSameRect(displayWindow, display)) faults.push("the display window is not the plate's")
    const { least, most } = await this.#dataWindows(target)
    const found = relativeTo(dataWindow, display)
    if (!contains(found, least) || !contains(most, found)) faults.push("the data window is not the picture's")
    const names = channels.map(({ name }) => name).join(', ')
    const wanted = this.#channels()
    if (!wanted.includes(names)) faults.push(`the channels are ${names}, not ${wanted.join(' or ')}`)
    if (imageCounter !== (own.imageCounter ?? target)) faults.push('the header counts another frame')
    return faults
  }

  /** Between which a file's data window lies: of a whole frame the plate's own, and beside it where a patch may lie. */
  async #dataWindows(target: number): Promise<{ least: Rect; most: Rect }> {
    const { target: plate, region } = this.job
    const { what } = this.patch
    if (what === 'patch' || what === 'ratio') {
      const only = what === 'patch' ? region.window : fullOf(plate)
      return { least: only, most: only }
    }
    const least = await dataWindowOf(plate, target)
    return { least, most: unite(least, region.window) }
  }

  #channels(): string[] {
    if (this.patch.what === 'patch') return ['A, B, G, R']
    return this.patch.what === 'ratio' ? ['B, G, R'] : ['B, G, R', 'A, B, G, R']
  }

  async #sampleFaults(
    { target, lent }: PatchFrame,
    { data }: Frame,
    alpha: Alpha | null,
    plate: Frame | undefined,
  ): Promise<string[]> {
    const { bitDepth } = this.job.target
    this.#opened(lent.length > 0 ? target : null)
    if (this.patch.what === 'patch') return patchFaults(data, alpha!.data, this.#open)
    if (this.patch.what === 'ratio') return ratioFaults(data, this.#open)
    // Stills have the plate's codes, an EXR has its light.
    if (this.patch.format === 'exr') toLinear(this.job.target, plate!)
    const faults = wholeFaults(data, plate!.data, this.#open, bitDepth === 'half')
    return alpha === null || (await this.#isPlatesAlpha(target, alpha)) ? faults : [...faults, FAULTS.plate]
  }

  async #isPlatesAlpha(target: number, { data }: Alpha): Promise<boolean> {
    const own = await readAlpha(this.job.target, target, this.#rect)
    return own?.data.every((a, i) => Object.is(a, data[i])) ?? false
  }

  /** Marks where something may lie on a frame; nowhere on one whose mask is black. */
  #opened(target: number | null): void {
    const { region } = this.job
    const inside = target === null ? null : region.frames.get(target)!.inside
    if (inside === this.#inside && inside !== null) return
    this.#inside = inside
    this.#open.fill(0)
    if (inside === null) return
    const { x, y, w, h } = region.window
    const alpha = featheredAlpha(inside, w, this.patch.region.feather, this.patch.region.featherSide)
    for (let row = 0, i = 0; row < h; row++) {
      let to = (y + row - this.#rect.y) * this.#rect.w + x - this.#rect.x
      for (let column = 0; column < w; column++, i++, to++) if (alpha[i] > 0) this.#open[to] = 1
    }
  }
}

function fullOf({ width, height }: Plate): Rect {
  return { x: 0, y: 0, w: width, h: height }
}
