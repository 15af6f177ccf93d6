// What a movie's header says, asked of ffprobe: size, depth, how many frames, how its samples stand for light.
import { execFile } from 'node:child_process'
import { promisify } from 'node:util'
import { z } from 'zod'
import type { EncodingChoice } from '../../colour/encoding.js'
import { OffcutError, plateError, printable } from '../../errors.js'
import type { FrameInfo } from '../reader.js'

export interface MovieFacts {
  readonly info: FrameInfo
  readonly frames: number
  /** What ffmpeg is asked for: its name for planar samples of the movie's own depth, chroma at full size. */
  readonly planes: string
  readonly bits: number
  readonly colour: MovieColour
  /** Where to start reading so that frame `wanted` comes. Frames before `from` are read through, not jumped over. */
  readonly seekTo: (wanted: number, from?: number) => SeekPoint
}

/** A time to seek to, or null for the start, and the frame that comes first from there. */
export interface SeekPoint {
  readonly frame: number
  readonly seconds: number | null
}

/** How three planes become R'G'B'. */
export type MovieColour =
  | { readonly kind: 'rgb' }
  | { readonly kind: 'grey' }
  | { readonly kind: 'ycbcr'; readonly kr: number; readonly kb: number; readonly fullRange: boolean }

const text = z.string().optional()
const answer = z.object({
  streams: z
    .array(
      z.object({
        width: z.int().positive(),
        height: z.int().positive(),
        pix_fmt: z.string(),
        sample_aspect_ratio: text,
        r_frame_rate: text,
        avg_frame_rate: text,
        start_time: text,
        color_range: text,
        color_space: text,
        color_transfer: text,
        tags: z.object({ timecode: text }).optional(),
      }),
    )
    .min(1),
  packets: z.array(z.object({ pts_time: text, flags: z.string() })).optional(),
  format: z
    .object({ format_name: text, start_time: text, tags: z.object({ timecode: text }).optional() })
    .optional(),
})

/** @throws MOVIE_NEEDS_FFMPEG, MOVIE_UNREADABLE */
export async function movieFacts(path: string): Promise<MovieFacts> {
  const { streams, format, packets = [] } = await ask(path)
  const stream = streams[0]!
  // Headers lie: of a trimmed movie they count what is stored, of a torn one what was to be. D marks what is stored and
  // decoded but not shown, as an edit list has it.
  const shown = packets.filter(({ flags }) => !flags.includes('D'))
  if (shown.length === 0) throw movieUnreadable(path, 'holds no frames')
  const bits = bitsOf(stream.pix_fmt)
  const colour = colourOf(path, stream)
  return {
    frames: shown.length,
    info: {
      width: stream.width,
      height: stream.height,
      bitDepth: `${bits}-bit`,
      channels: colour.kind === 'rgb' ? ['R', 'G', 'B'] : colour.kind === 'grey' ? ['Y'] : ['Y', 'Cb', 'Cr'],
      pixelAspect: ratio(stream.sample_aspect_ratio?.replace(':', '/')) ?? 1,
      encodingHint: hintOf(stream.color_transfer),
      framesPerSecond: ratio(stream.avg_frame_rate) ?? ratio(stream.r_frame_rate),
      timeCode: stream.tags?.timecode ?? format?.tags?.timecode,
    },
    planes: { rgb: 'gbrp', grey: 'gray', ycbcr: 'yuv444p' }[colour.kind] + (bits === 8 ? '' : `${bits}le`),
    bits,
    colour,
    seekTo: seeker(timesOf(shown), format),
  }
}

/** One question for all: what is asked of the packets reads the file through but decodes nothing. */
async function ask(path: string): Promise<z.infer<typeof answer>> {
  const question = ['-v', 'error', '-select_streams', 'v:0', '-show_streams', '-show_format', '-of', 'json']
  const ofPackets = ['-show_entries', 'packet=pts_time,flags']
  let stdout: string
  try {
    const run = await promisify(execFile)('ffprobe', [...question, ...ofPackets, `file:${path}`], {
      maxBuffer: 2 ** 28,
    })
    stdout = run.stdout
  } catch (cause) {
    const { code, stderr } = cause as { code?: unknown; stderr?: string }
    if (typeof code !== 'number') throw ffmpegMissing(path, cause)
    const said = stderr?.trim().split('\n').at(-1)?.replace(`file:${path}: `, '') ?? ''
    throw movieUnreadable(path, `can't be read as a movie (${said})`, cause)
  }
  const parsed = answer.safeParse(JSON.parse(stdout))
  if (!parsed.success) throw movieUnreadable(path, 'holds no video', parsed.error)
  return parsed.data
}

/** The error for an ffmpeg that could not be started. */
export function ffmpegMissing(path: string, cause: unknown): OffcutError {
  const why = (cause as NodeJS.ErrnoException).code === 'ENOENT' ? '' : ` (${(cause as Error).message})`
  return new OffcutError(
    'MOVIE_NEEDS_FFMPEG',
    `${printable(path)} is a movie, which takes ffmpeg and ffprobe, and they did not start${why}: install ffmpeg 5.1 ` +
      'or newer so that both commands are found, or convert the movie to an image sequence',
    1,
    { cause },
  )
}

function movieUnreadable(path: string, problem: string, cause?: unknown): Error {
  return plateError('MOVIE_UNREADABLE', path, problem, 'export it again, or as an image sequence', { cause })
}

// What streams say of their transfer, in ffmpeg's words for the code points of ITU-T H.273.
const SAME_AS_BT709 = ['bt709', 'smpte170m', 'bt2020-10', 'bt2020-12']

function hintOf(transfer: string | undefined): EncodingChoice | undefined {
  if (transfer === undefined || transfer === 'unknown' || transfer === 'unspecified') return undefined
  const why = `the movie says its transfer is ${transfer}`
  if (SAME_AS_BT709.includes(transfer)) return { encoding: 'rec709', why }
  if (transfer === 'iec61966-2-1') return { encoding: 'srgb', why }
  if (transfer === 'linear') return { encoding: 'linear', why }
  return { encoding: 'srgb', why: `${why}, which is not decoded, so sRGB is assumed` }
}

// Shares of red and blue in luma. ITU-R BT.709-6, BT.601-7, BT.2020-2; FCC and SMPTE 240M as in ITU-T H.273 table 4.
const LUMA_SHARES: Readonly<Record<string, readonly [kr: number, kb: number]>> = {
  bt709: [0.2126, 0.0722],
  smpte170m: [0.299, 0.114],
  bt470bg: [0.299, 0.114],
  bt2020nc: [0.2627, 0.0593],
  fcc: [0.3, 0.11],
  smpte240m: [0.212, 0.087],
}
// taller than this is high definition
const STANDARD_DEFINITION_ROWS = 576

function colourOf(path: string, stream: Stream): MovieColour {
  const { pix_fmt: format, color_space: space = 'unknown', color_range: range } = stream
  if (/^(gbr|rgb|bgr|argb|abgr|0rgb|0bgr|x2rgb|x2bgr|pal8)/.test(format)) return { kind: 'rgb' }
  if (/^(gray|ya|mono)/.test(format)) return { kind: 'grey' }
  if (!/^(yuv|nv|p0|p2|p4|y2|xv|vuy|uyvy|yuyv|yvyu|ayuv|v30)/.test(format)) {
    throw movieUnreadable(path, `holds pixels of kind ${format}, which are not read`)
  }
  // where the stream does not say: as players do, by its size (common practice)
  const assumed = stream.height <= STANDARD_DEFINITION_ROWS ? 'smpte170m' : 'bt709'
  const shares = LUMA_SHARES[space === 'unknown' ? assumed : space]
  if (shares === undefined) throw movieUnreadable(path, `has the colour matrix ${space}, which is not read`)
  const fullRange = range === 'pc' || (range !== 'tv' && format.startsWith('yuvj'))
  return { kind: 'ycbcr', kr: shares[0], kb: shares[1], fullRange }
}

function bitsOf(pixelFormat: string): number {
  // deeper than 16 bits and float: 16, the deepest that ffmpeg's planar kinds have
  if (/f32|f16|96|128/.test(pixelFormat)) return 16
  if (/^x2(rgb|bgr)|^v30/.test(pixelFormat)) return 10
  if (/(48|64)(le|be)/.test(pixelFormat)) return 16
  const stated = /(?:p|gray|ya|p0|p2|p4|y2|xv)(9|10|12|14|16)(?:le|be)$/.exec(pixelFormat)
  return Number(stated?.[1] ?? 8)
}

type Stream = z.infer<typeof answer>['streams'][number]

// Containers that are sure to have a time stamp on every frame, and that ffmpeg finds frames in by it. In AVI, and in
// MXF where frames are stored in another order than shown, seeking comes out a frame or two off.
const SEEKABLE = /\b(mov|mp4|matroska|webm)\b/
// Decoding this many frames for nothing costs no more than seeking.
const SEEK_BEYOND = 12

function seeker(
  times: readonly number[] | null,
  container: z.infer<typeof answer>['format'],
): MovieFacts['seekTo'] {
  const start = { frame: 1, seconds: null }
  if (times === null || !SEEKABLE.test(container?.format_name ?? '')) return () => start
  return (wanted, from = SEEK_BEYOND) => {
    if (wanted <= Math.max(1, from)) return start
    // between two frames, so that rounding of time stamps can't reach the wrong one
    const between = (times[wanted - 2]! + times[wanted - 1]!) / 2
    // ffmpeg counts seconds from where the container starts, which may be where its sound does
    return { frame: wanted, seconds: between - (Number(container?.start_time) || 0) }
  }
}

/** The time at which each frame is shown, ascending, seconds; null where a frame has none. */
function timesOf(shown: readonly { readonly pts_time?: string | undefined }[]): number[] | null {
  const times = shown.map(({ pts_time }) => Number.parseFloat(pts_time ?? '')).sort((a, b) => a - b)
  return times.every(Number.isFinite) ? times : null
}

function ratio(written: string | undefined): number | undefined {
  const [over, under = '1'] = written?.split('/') ?? []
  const value = Number(over) / Number(under)
  return Number.isFinite(value) && value > 0 ? value : undefined
}
