// Movies by ffmpeg, where it is installed: frames by number (the first is 1), at the depth they are stored in.
// Each reading is one ffmpeg process that streams the wanted rectangle as 16-bit RGB.
import { spawn } from 'node:child_process'
import { basename, dirname } from 'node:path'
import { type OffcutError, plateError, printable } from '../errors.js'
import { type Frame, frame } from '../raster/frame.js'
import { intersect, type Rect } from '../raster/rect.js'
import { ffmpegMissing, type MovieFacts, movieFacts } from './movie-facts.js'
import { extensionOf } from './reader.js'
import { type Delivery, missing, type Opened, unreadable } from './source.js'

/** @throws MOVIE_NEEDS_FFMPEG, MOVIE_UNREADABLE */
export async function openMovie(path: string): Promise<Opened> {
  const facts = await movieFacts(path)
  const frames = Array.from({ length: facts.frames }, (_, i) => i + 1)
  const readMany = (wanted: readonly number[], rect: Rect): AsyncGenerator<Delivery<Frame>> =>
    stream(path, facts, wanted, rect)
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
    info: facts.info,
    format: extensionOf(path),
    source: {
      // every frame of a stream has the stream's size
      check: async () => {},
      read: async (number, rect) => {
        for await (const { picture, error } of readMany([number], rect)) {
          if (error !== undefined) throw error
          return picture
        }
        throw unreadable(path, new Error(`frame ${number} did not come`))
      },
      readMany,
      levels: FULL_SCALE,
    },
  }
}

// rgb48 whatever the movie's depth: swscale then keeps every bit of 10 and 12 bits per sample
const FULL_SCALE = 65535
const BYTES_PER_PIXEL = 6
// Chroma is interpolated across the rectangle's edge, and its grid is at most 4 pixels wide: reading this much more on
// every side, from a multiple of it, gives the same pixels as reading the whole frame.
const CHROMA_MARGIN = 16
// the tail of what ffmpeg said, for the error message
const STDERR_KEPT = 2000

async function* stream(
  path: string,
  facts: MovieFacts,
  wanted: readonly number[],
  rect: Rect,
): AsyncGenerator<Delivery<Frame>> {
  const numbers = [...wanted].sort((a, b) => a - b)
  if (numbers.length === 0) return
  const outer = padded(rect, facts.info)
  const first = numbers[0]!
  const start = facts.seekTo(first)
  const child = spawn('ffmpeg', ffmpegArguments(path, facts, outer, start, numbers.at(-1)!), {
    stdio: ['ignore', 'pipe', 'pipe'],
  })
  let said = ''
  child.stderr.setEncoding('utf8').on('data', (text: string) => {
    said = (said + text).slice(-STDERR_KEPT)
  })
  const ended = new Promise<Error | null>((resolve) => {
    child.once('error', resolve)
    child.once('close', () => resolve(null))
  })
  let next = 0
  try {
    let number = start.frame
    for await (const pixels of pieces(child.stdout, outer.w * outer.h * BYTES_PER_PIXEL)) {
      if (number === numbers[next]) {
        yield { frame: number, picture: cut(pixels, outer, rect) }
        next++
      }
      number++
    }
    const failed = await ended
    if (failed !== null) throw ffmpegMissing(path, failed)
    const why = new Error(said.trim() === '' ? 'the movie ends before this frame' : lastLine(said))
    for (; next < numbers.length; next++) {
      yield { frame: numbers[next]!, error: unreadableFrame(path, numbers[next]!, why) }
    }
  } finally {
    child.kill('SIGKILL')
  }
}

function ffmpegArguments(
  path: string,
  facts: MovieFacts,
  outer: Rect,
  start: { readonly frame: number; readonly seconds: number | null },
  last: number,
): string[] {
  const filters = [
    `crop=${outer.w}:${outer.h}:${outer.x}:${outer.y}:exact=1`,
    // full_chroma_int and accurate_rnd: without them swscale trades exactness for speed
    `scale=flags=bicubic+accurate_rnd+full_chroma_int+full_chroma_inp+bitexact` +
      `:in_color_matrix=${facts.matrix}:in_range=${facts.range}`,
  ]
  return [
    ...['-nostdin', '-v', 'error', '-xerror', '-err_detect', 'explode', '-noautorotate'],
    ...(start.seconds === null ? [] : ['-ss', start.seconds.toFixed(6)]),
    // the protocol is named so that a file called `http:x.mov` stays a file
    ...['-i', `file:${path}`, '-map', '0:v:0', '-frames:v', String(last - start.frame + 1)],
    ...[
      '-vf',
      filters.join(','),
      '-fps_mode',
      'passthrough',
      '-f',
      'rawvideo',
      '-pix_fmt',
      'rgb48le',
      'pipe:1',
    ],
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
  const piece = Buffer.allocUnsafe(size)
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

function cut(pixels: Buffer, outer: Rect, rect: Rect): Frame {
  const picture = frame(rect.h, rect.w, 3)
  for (let y = 0, to = 0; y < rect.h; y++) {
    let from = ((rect.y - outer.y + y) * outer.w + rect.x - outer.x) * BYTES_PER_PIXEL
    for (let i = 0; i < rect.w * 3; i++, to++, from += 2) {
      picture.data[to] = (pixels[from]! | (pixels[from + 1]! << 8)) / FULL_SCALE
    }
  }
  return picture
}

function unreadableFrame(path: string, number: number, cause: Error): OffcutError {
  const problem = `can't be read at frame ${number} (${printable(cause.message)})`
  return plateError('FRAME_UNREADABLE', path, problem, 'export the movie again', { cause })
}

function lastLine(text: string): string {
  return text.trim().split('\n').at(-1)!
}
