// Movies by ffmpeg, where it is installed: frames by number (the first is 1), at the depth they are stored in.
// Each reading is one ffmpeg process that streams the wanted rectangle in the movie's own samples; the colour matrix is
// applied here, in float, as ffmpeg's scaler leaves the last bits out. Damage that a codec hides (some paint the frame
// before it again and report nothing) can't be seen from here.
import { spawn } from 'node:child_process'
import { basename, dirname, extname } from 'node:path'
import { type OffcutError, plateError, printable } from '../../errors.js'
import { type Frame, frame } from '../../raster/frame.js'
import { intersect, type Rect } from '../../raster/rect.js'
import { numbered } from '../naming.js'
import type { FrameInfo } from '../reader.js'
import { extensionOf } from '../readers.js'
import { type Delivery, missing, type Opened, type Source, unreadable } from '../source.js'
import { timeCodeAfter } from '../time-code.js'
import { ffmpegMissing, type MovieColour, type MovieFacts, movieFacts, type SeekPoint } from './facts.js'
import { KeptFrames } from './kept.js'

/** @throws MOVIE_NEEDS_FFMPEG, MOVIE_UNREADABLE */
export async function openMovie(path: string): Promise<Opened> {
  const facts = await movieFacts(path)
  const frames = Array.from({ length: facts.frames }, (_, i) => i + 1)
  const kept = new Set<KeptFrames>()
  async function* readMany(wanted: readonly number[], rect: Rect): AsyncGenerator<Delivery<Frame>> {
    const outer = padded(rect, facts.info)
    const left: number[] = []
    for (const frame of wanted) {
      const held = [...kept].find((frames) => frames.holds(frame, rect))
      if (held === undefined) left.push(frame)
      else yield { frame, picture: toRgb(await held.get(frame), facts, padded(held.rect, facts.info), rect) }
    }
    for await (const { frame, picture, error } of stream(path, facts, left, outer))
      yield picture ? { frame, picture: toRgb(picture, facts, outer, rect) } : { frame, error }
  }
  const keep: Source['keep'] = async (wanted, rect, { onProgress, signal }) => {
    const outer = padded(rect, facts.info)
    const frames = await KeptFrames.create(rect, bytesPerFrame(facts, outer))
    if (frames === null) return async () => {}
    kept.add(frames)
    const release = async (): Promise<void> => {
      kept.delete(frames)
      await frames.close()
    }
    try {
      let done = 0
      for await (const { frame, picture } of stream(path, facts, wanted, outer)) {
        signal?.throwIfAborted()
        if (picture !== undefined && !(await frames.add(frame, picture))) break
        onProgress?.({ phase: 'decoding the movie', done: ++done, total: wanted.length })
      }
    } catch (cause) {
      await release()
      throw cause
    }
    return release
  }
  return {
    spec: path,
    name: basename(path),
    folder: dirname(path),
    frames,
    pathOf: (number) => {
      if (!Number.isInteger(number) || number < 1 || number > facts.frames) {
        throw missing({ spec: path, frames }, number)
      }
      return path
    },
    stem: basename(path, extname(path)),
    numberOf: (number) => numbered(number, facts.frames),
    info: facts.info,
    format: extensionOf(path),
    source: {
      byRows: false,
      downwards: false,
      // every frame of a stream has the stream's size
      check: async () => {},
      header: async (number) => headerOf(facts.info, number),
      read: async (number, rect) => {
        for await (const { picture, error } of readMany([number], rect)) {
          if (error !== undefined) throw error
          return picture
        }
        throw unreadable(path, new Error(`frame ${number} did not come`))
      },
      readMany,
      keep,
      // YCbCr makes values between the codes, below 0 and above 1: no table
      levels: facts.colour.kind === 'ycbcr' ? undefined : 2 ** facts.bits - 1,
      between: facts.colour.kind === 'ycbcr',
    },
  }
}

/** Every frame's header is the movie's, whose time code is the first frame's. */
function headerOf(info: FrameInfo, number: number): FrameInfo {
  const { timeCode: first, framesPerSecond: rate } = info
  const timeCode = first && rate ? timeCodeAfter(first, number - 1, rate) : undefined
  return { ...info, timeCode }
}

// Chroma is interpolated across the rectangle's edge, and its grid is at most 4 pixels wide: reading this much more on
// every side, from a multiple of it, gives the same pixels as reading the whole frame.
const CHROMA_MARGIN = 16
// the tail of what ffmpeg said, for the error message
const STDERR_KEPT = 2000
// Frames that are named to ffmpeg one by one, at most: each is asked about at every frame.
const MAX_PICKED = 64
// So many frames in a row that can't be decoded are the rest of the movie, or would take a process each to find out.
const GIVE_UP_AFTER = 8

/** What one ffmpeg process is asked for. */
interface Run {
  readonly path: string
  readonly facts: MovieFacts
  readonly outer: Rect
  readonly start: SeekPoint
  /** Ascending, not before `start`. */
  readonly wanted: readonly number[]
  /** Decoding several frames at once is faster, but loses those before a damaged one. */
  readonly threads: 'all' | 'one'
}

/**
 * Frames in ascending order, as planar samples of a rectangle from `padded`, each of which lasts until the next is asked
 * for; what can't be decoded comes with its error, and reading goes on behind it.
 */
async function* stream(
  path: string,
  facts: MovieFacts,
  wanted: readonly number[],
  outer: Rect,
): AsyncGenerator<Delivery<Buffer>> {
  let left = [...wanted].sort((a, b) => a - b)
  let careful = false
  let alone = false
  let failures = 0
  while (left.length > 0) {
    const start = facts.seekTo(left[0]!, careful ? 1 : undefined)
    const said = { text: '' }
    let came = 0
    const threads = careful ? 'one' : 'all'
    const asked = alone ? left.slice(0, 1) : left
    for await (const delivery of run({ path, facts, outer, start, wanted: asked, threads }, said)) {
      came++
      yield delivery
    }
    left = left.slice(came)
    if (came > 0) failures = 0
    // ffmpeg drops good frames before a damaged one when it stops for it, more on a busy machine. So what a careful start
    // does not bring is asked for by itself, that nothing behind it is decoded, and only what does not come then is condemned.
    if (alone && came === 0) {
      const why = new Error(
        said.text.trim() === '' ? 'the movie ends before this frame' : lastLine(said.text),
      )
      const hopeless = ++failures === GIVE_UP_AFTER ? left.length : 1
      for (const n of left.slice(0, hopeless)) yield { frame: n, error: unreadableFrame(path, n, why) }
      left = left.slice(hopeless)
    }
    alone = careful && !alone && came === 0
    careful = true
  }
}

/** One ffmpeg process: the wanted frames as far as it gets; what it says on its way goes into `said`. */
async function* run(task: Run, said: { text: string }): AsyncGenerator<Delivery<Buffer>> {
  const { path, facts, outer, start, wanted } = task
  const child = spawn('ffmpeg', ffmpegArguments(task), { stdio: ['ignore', 'pipe', 'pipe'] })
  child.stderr.setEncoding('utf8').on('data', (text: string) => {
    said.text = (said.text + text).slice(-STDERR_KEPT)
  })
  const ended = new Promise<Error | null>((resolve) => {
    child.once('error', resolve)
    child.once('close', () => resolve(null))
  })
  try {
    const picked = isPicked(task)
    let number = start.frame
    let next = 0
    for await (const pixels of pieces(child.stdout, bytesPerFrame(facts, outer))) {
      if (picked) number = wanted[next]!
      if (number === wanted[next]) {
        next++
        yield { frame: number, picture: pixels }
      }
      number++
    }
    const failed = await ended
    if (failed !== null) throw ffmpegMissing(path, failed)
  } finally {
    child.kill('SIGKILL')
  }
}

/** Few frames of many: ffmpeg hands over those alone, which saves making pictures of the others and piping them. */
function isPicked({ start, wanted }: Run): boolean {
  return wanted.length <= MAX_PICKED && 2 * wanted.length <= wanted.at(-1)! - start.frame + 1
}

function ffmpegArguments(task: Run): string[] {
  const { path, facts, outer, start, wanted, threads } = task
  const picked = isPicked(task)
  const filters = [
    // counted from the first that is decoded
    ...(picked ? [`select='${wanted.map((n) => `eq(n,${n - start.frame})`).join('+')}'`] : []),
    `crop=${outer.w}:${outer.h}:${outer.x}:${outer.y}:exact=1`,
    // only chroma is resized; the same range on both sides keeps the code values
    'scale=flags=bicubic+accurate_rnd+full_chroma_inp+bitexact:in_range=limited:out_range=limited',
    `format=${facts.planes}`,
  ]
  const count = picked ? wanted.length : wanted.at(-1)! - start.frame + 1
  return [
    ...['-nostdin', '-v', 'error', '-xerror', '-err_detect', 'crccheck+explode', '-noautorotate'],
    ...(threads === 'one' ? ['-threads', '1'] : []),
    ...(start.seconds === null ? [] : ['-ss', start.seconds.toFixed(6)]),
    // the protocol is named so that a file called `http:x.mov` stays a file
    ...['-i', `file:${path}`, '-map', '0:v:0', '-frames:v', String(count)],
    ...['-vf', filters.join(','), '-fps_mode', 'passthrough', '-f', 'rawvideo', 'pipe:1'],
  ]
}

/** The rectangle with the chroma margin, its corner on the chroma grid, inside the frame. */
function padded(rect: Rect, { width, height }: { readonly width: number; readonly height: number }): Rect {
  const x = Math.floor(rect.x / CHROMA_MARGIN - 1) * CHROMA_MARGIN
  const y = Math.floor(rect.y / CHROMA_MARGIN - 1) * CHROMA_MARGIN
  const right = Math.ceil((rect.x + rect.w) / CHROMA_MARGIN + 1) * CHROMA_MARGIN
  const bottom = Math.ceil((rect.y + rect.h) / CHROMA_MARGIN + 1) * CHROMA_MARGIN
  return intersect({ x, y, w: right - x, h: bottom - y }, { x: 0, y: 0, w: width, h: height })
}

/** Splits a byte stream into pieces of one size; a last, shorter piece is dropped. The buffer is used again. */
async function* pieces(bytes: AsyncIterable<Buffer>, size: number): AsyncGenerator<Buffer> {
  // its own memory, so that 16-bit samples start at an even address
  const piece = Buffer.from(new ArrayBuffer(size))
  let filled = 0
  for await (const chunk of bytes) {
    for (let from = 0; from < chunk.length; ) {
      const copied = chunk.copy(piece, filled, from)
      from += copied
      filled += copied
      if (filled === size) {
        yield piece
        filled = 0
      }
    }
  }
}

function bytesPerFrame({ bits, colour }: MovieFacts, { w, h }: Rect): number {
  return w * h * (colour.kind === 'grey' ? 1 : 3) * (bits > 8 ? 2 : 1)
}

/** R'G'B' of the rectangle, 0 to 1 over the nominal range, from the planes of a larger one. */
function toRgb(bytes: Buffer, { bits, colour }: MovieFacts, outer: Rect, rect: Rect): Frame {
  const samples = bits > 8 ? new Uint16Array(bytes.buffer, bytes.byteOffset, bytes.length / 2) : bytes
  const plane = outer.w * outer.h
  const picture = frame(rect.h, rect.w, 3)
  const out = picture.data
  const top = 2 ** bits - 1
  // planes in ffmpeg's order: G, B, R and Y, Cb, Cr; of a grey movie the one plane stands for all three
  const [second, third] = colour.kind === 'grey' ? [0, 0] : [plane, 2 * plane]
  const { black, luma, chroma, middle } = quantisation(colour, bits)
  const kr = colour.kind === 'ycbcr' ? colour.kr : 0
  const kb = colour.kind === 'ycbcr' ? colour.kb : 0
  const kg = 1 - kr - kb
  for (let y = 0, to = 0; y < rect.h; y++) {
    let at = (rect.y - outer.y + y) * outer.w + rect.x - outer.x
    for (let x = 0; x < rect.w; x++, at++, to += 3) {
      if (colour.kind === 'ycbcr') {
        const brightness = (samples[at]! - black) / luma
        const red = brightness + 2 * (1 - kr) * ((samples[at + third]! - middle) / chroma)
        const blue = brightness + 2 * (1 - kb) * ((samples[at + second]! - middle) / chroma)
        out[to] = red
        out[to + 1] = (brightness - kr * red - kb * blue) / kg
        out[to + 2] = blue
      } else {
        out[to] = samples[at + third]! / top
        out[to + 1] = samples[at]! / top
        out[to + 2] = samples[at + second]! / top
      }
    }
  }
  return picture
}

/** Code values of black, of the range of luma and of colour difference. ITU-R BT.709-6 item 3.4; ITU-T H.273 8.3. */
function quantisation(colour: MovieColour, bits: number) {
  const unit = 2 ** (bits - 8)
  if (colour.kind === 'ycbcr' && !colour.fullRange) {
    return { black: 16 * unit, luma: 219 * unit, chroma: 224 * unit, middle: 128 * unit }
  }
  const top = 2 ** bits - 1
  return { black: 0, luma: top, chroma: top, middle: 128 * unit }
}

function unreadableFrame(path: string, number: number, cause: Error): OffcutError {
  const problem = `can't be read at frame ${number} (${printable(cause.message)})`
  return plateError('FRAME_UNREADABLE', path, problem, 'export the movie again', { cause })
}

function lastLine(text: string): string {
  return text.trim().split('\n').at(-1)!
}
