// Reads a rectangle of an OpenEXR frame: only the chunks it needs are read from disk and decompressed.
import { codecs, wordsIn } from '../../kernels/codecs.js'
import { type Frame, frame } from '../../raster/frame.js'
import { HALF_NAN } from '../../raster/half.js'
import { grow, intersect, isEmpty, type Rect } from '../../raster/rect.js'
import { BoundedFile } from '../bounded-file.js'
import type { FrameInfo, FrameReader, ReadOptions } from '../reader.js'
import { type Block, type BlockShape, hasEveryPixel } from './blocks.js'
import { eachChunk } from './chunks.js'
import { decodeBlock, type Samples } from './decode.js'
import { bad, type ExrHeader, readHeader } from './header.js'
import { choosePicture, layerNames, type Picture } from './layers.js'
import {
  gather,
  gatherHalves,
  luminanceWeights,
  marginOf,
  planeFor,
  planesIn,
  type SamplePlane,
  toRgb,
} from './planes.js'

/** What an EXR frame says of itself beyond what every format does. */
export interface ExrInfo extends FrameInfo {
  /** In the file's own coordinates; every other rectangle counts from its corner. */
  readonly displayWindow: Rect
}

export const exrReader: FrameReader & { probe(path: string, options?: ReadOptions): Promise<ExrInfo> } = {
  formats: ['exr'],
  byRows: true,
  probe: (path, options) =>
    BoundedFile.use(path, 'EXR_BAD', async (file) => {
      const header = await readHeader(file)
      return infoOf(header, choosePicture(header, path, options?.layer))
    }),
  read: (path, rect, options) =>
    BoundedFile.use(path, 'EXR_BAD', async (file) => {
      const { header, picture } = await opened(file, path, options)
      return readPicture(file, header, picture, rect, options?.outside)
    }),
  readHalves: (path, rect, options) =>
    BoundedFile.use(path, 'EXR_BAD', async (file) => {
      const { header, picture } = await opened(file, path, options)
      if (!asStored(picture)) return null
      const samples = 3 * rect.w * rect.h
      const out = options?.room?.(samples) ?? new Uint16Array(samples)
      await fillHalves(file, header, picture, rect, out)
      return out
    }),
  eachHalves: (path, { rows, from = 0, to, take }, options) =>
    BoundedFile.use(path, 'EXR_BAD', async (file) => {
      const { header, picture } = await opened(file, path, options)
      if (!asStored(picture)) return false
      const { w, h } = picture.part.displayWindow
      // Where kernels write them in place, once for all of the frame.
      const held = codecs().hold()
      try {
        const end = to ?? h
        const band = wordsIn(held.bytes(6 * w * Math.min(rows, end - from)))
        for (let y = from; y < end; y += rows) {
          const rect = { x: 0, y, w, h: Math.min(rows, end - y) }
          const halves = band.subarray(0, 3 * w * rect.h)
          await fillHalves(file, header, picture, rect, halves)
          take(halves, y)
        }
      } finally {
        held.release()
      }
      return true
    }),
  readAlpha: (path, rect, options) =>
    BoundedFile.use(path, 'EXR_BAD', async (file) => {
      const { header, picture } = await opened(file, path, options)
      if (picture.alpha === null) return null
      const alone: Picture = { ...picture, kind: 'grey', channels: [picture.alpha] }
      const { data } = await readPicture(file, header, alone, rect, options?.outside)
      // "Technical Introduction", Premultiplied vs. Un-Premultiplied Color Channels: colours are premultiplied.
      const alphas = new Float32Array(rect.w * rect.h)
      for (let i = 0; i < alphas.length; i++) alphas[i] = data[3 * i]!
      return { data: alphas, associated: true }
    }),
}

/** The header, and the picture in it that is meant. */
async function opened(
  file: BoundedFile,
  path: string,
  { layer, onHeader }: ReadOptions = {},
): Promise<{ header: ExrHeader; picture: Picture }> {
  const header = await readHeader(file)
  const picture = choosePicture(header, path, layer)
  onHeader?.(infoOf(header, picture))
  return { header, picture }
}

const BIT_DEPTHS = { uint: '32-bit', half: 'half', float: 'float' } as const
// luminance leaves nothing to tell green by where its weight is less
const MIN_GREEN = 1e-3
// ITU-R BT.709, which OpenEXR takes where a header has no chromaticities
const BT709 = [0.64, 0.33, 0.3, 0.6, 0.15, 0.06, 0.3127, 0.329]

function infoOf(header: ExrHeader, picture: Picture): ExrInfo {
  const { part } = picture
  // parts of one file share their windows and clock, and some writers say so in the first part only
  const first = header.parts[0]!
  const types = picture.channels.map((i) => part.channels[i]!.type)
  const type = (['float', 'uint', 'half'] as const).find((t) => types.includes(t))!
  const { framesPerSecond = first.framesPerSecond, timeCode = first.timeCode } = part
  const { chromaticities = first.chromaticities, imageCounter = first.imageCounter } = part
  const layers = layerNames(header)
  const otherChannels = header.parts.flatMap((other) =>
    other.channels.flatMap(({ name }) => (other === part && picture.names.includes(name) ? [] : [name])),
  )
  return {
    width: part.displayWindow.w,
    height: part.displayWindow.h,
    displayWindow: part.displayWindow,
    bitDepth: BIT_DEPTHS[type],
    channels: picture.names,
    pixelAspect: part.pixelAspect ?? 1,
    ...(framesPerSecond === undefined ? {} : { framesPerSecond }),
    ...(timeCode === undefined ? {} : { timeCode }),
    ...(imageCounter === undefined ? {} : { imageCounter }),
    ...(chromaticities === undefined ? {} : { chromaticities }),
    ...(otherChannels.length === 0 ? {} : { otherChannels }),
    ...(layers.length === 0 ? {} : { layers }),
  }
}

async function readPicture(
  file: BoundedFile,
  header: ExrHeader,
  picture: Picture,
  rect: Rect,
  outside = 0,
): Promise<Frame> {
  const { part } = picture
  const { wanted, covered } = within(picture, rect)
  const out = blank(rect, outside)
  if (isEmpty(covered)) return out
  const channels = picture.channels.map((i) => part.channels[i]!)
  if (picture.kind === 'rgb' && hasEveryPixel({ channels })) {
    await fillPlanes(file, header, picture, covered, planesIn(out.data, channels, wanted, covered))
    return out
  }
  const need = intersect(grow(covered, marginOf(channels)), part.dataWindow)
  const planes = channels.map((channel) => planeFor(channel, need))
  await fillPlanes(file, header, picture, need, planes)
  return toRgb(planes, wanted, covered, picture.kind === 'chroma' ? weightsOf(header, picture) : null, out)
}

/** A rectangle in the file's own coordinates, and what of it the file has. */
function within({ part: { displayWindow, dataWindow } }: Picture, rect: Rect) {
  const wanted = { ...rect, x: rect.x + displayWindow.x, y: rect.y + displayWindow.y }
  return { wanted, covered: intersect(wanted, dataWindow) }
}

/** Whether a picture is stored as halves of red, green and blue, one for each pixel. */
function asStored({ part, kind, channels }: Picture): boolean {
  const own = channels.map((i) => part.channels[i]!)
  return kind === 'rgb' && hasEveryPixel({ channels: own }) && own.every(({ type }) => type === 'half')
}

/** Halves as they are stored, NaN outside the data window. @param out [rect.h, rect.w, 3] */
async function fillHalves(
  file: BoundedFile,
  header: ExrHeader,
  picture: Picture,
  rect: Rect,
  out: Uint16Array,
): Promise<void> {
  const { wanted, covered } = within(picture, rect)
  if (covered.w < rect.w || covered.h < rect.h) out.fill(HALF_NAN)
  if (isEmpty(covered)) return
  await eachSamples(file, header, picture, covered, (block, _, samples) =>
    gatherHalves(out, wanted, covered, picture.channels, block, samples),
  )
}

/** Decodes the chunks under a rectangle of the data window, and copies what they have of the picture's planes. */
function fillPlanes(
  file: BoundedFile,
  header: ExrHeader,
  picture: Picture,
  need: Rect,
  planes: readonly SamplePlane[],
): Promise<void> {
  return eachSamples(file, header, picture, need, (block, shape, samples) => {
    for (const [i, plane] of planes.entries()) gather(plane, picture.channels[i]!, block, shape, samples)
  })
}

/** Decodes the chunks under a rectangle of the data window; `use` must not keep their samples. */
function eachSamples(
  file: BoundedFile,
  header: ExrHeader,
  { part, channels }: Picture,
  need: Rect,
  use: (block: Block, shape: BlockShape, samples: Samples) => void,
): Promise<void> {
  return eachChunk(file, header, part, need, (block, shape, data) => {
    const from = Math.max(0, need.x - block.x)
    const to = Math.min(block.w, need.x + need.w - block.x)
    return decodeBlock(part.compression, data, shape, { channels, from, to }, (samples) =>
      use(block, shape, samples),
    )
  })
}

function blank({ w, h }: Rect, outside: number): Frame {
  const out = frame(h, w, 3)
  if (outside !== 0) out.data.fill(outside)
  return out
}

function weightsOf(header: ExrHeader, { part }: Picture): readonly [number, number, number] {
  const weights = luminanceWeights(part.chromaticities ?? header.parts[0]!.chromaticities ?? BT709)
  // Weights may be 0 or less, as of the axes X and Z or the blue of SMPTE ST 2065-1; only green is divided by its own.
  if (!weights.every(Number.isFinite) || Math.abs(weights[1]) < MIN_GREEN)
    throw bad('has chromaticities that are no primaries')
  return weights
}
