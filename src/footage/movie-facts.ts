// What a movie's header says, asked of ffprobe: size, depth, how many frames, how its samples stand for light.
import { execFile } from 'node:child_process'
import { promisify } from 'node:util'
import { z } from 'zod'
import type { EncodingChoice } from '../colour/encoding.js'
import { OffcutError, plateError, printable } from '../errors.js'
import type { FrameInfo } from './reader.js'

export interface MovieFacts {
  readonly info: FrameInfo
  readonly frames: number
  /** YCbCr matrix for ffmpeg's scale filter. */
  readonly matrix: string
  /** `full` or `limited`. */
  readonly range: string
  /**
   * Where to start reading so that frame `wanted` comes: a time to seek to and the frame that comes first from there.
   * Where the frames do not come at one constant rate it is the start of the movie, `seconds` null.
   */
  readonly seekTo: (wanted: number) => { readonly frame: number; readonly seconds: number | null }
}

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
        nb_frames: text,
        nb_read_packets: text,
        bits_per_raw_sample: text,
        color_range: text,
        color_space: text,
        color_transfer: text,
        tags: z.object({ timecode: text }).optional(),
      }),
    )
    .min(1),
  format: z.object({ start_time: text, tags: z.object({ timecode: text }).optional() }).optional(),
})

/** @throws MOVIE_NEEDS_FFMPEG, MOVIE_UNREADABLE */
export async function movieFacts(path: string): Promise<MovieFacts> {
  const found = await ask(path, [])
  // some containers do not say how many frames they hold; counting packets reads the file but decodes nothing
  const stated = Number(found.streams[0]!.nb_frames)
  const counted =
    stated > 0 ? stated : Number((await ask(path, ['-count_packets'])).streams[0]!.nb_read_packets)
  if (!(counted > 0)) throw movieUnreadable(path, 'holds no frames')
  const stream = found.streams[0]!
  const rgb = /^(gbr|rgb|bgr|argb|abgr|0rgb|gray|ya|pal8|x2rgb|x2bgr)/.test(stream.pix_fmt)
  return {
    frames: counted,
    info: {
      width: stream.width,
      height: stream.height,
      bitDepth: `${bitsOf(stream.pix_fmt, stream.bits_per_raw_sample)}-bit`,
      channels: [stream.pix_fmt],
      pixelAspect: ratio(stream.sample_aspect_ratio?.replace(':', '/')) ?? 1,
      encodingHint: hintOf(stream.color_transfer),
      framesPerSecond: ratio(stream.avg_frame_rate) ?? ratio(stream.r_frame_rate),
      timeCode: stream.tags?.timecode ?? found.format?.tags?.timecode,
    },
    matrix: matrixOf(stream.color_space, stream.height),
    range: rgb || stream.color_range === 'pc' || stream.pix_fmt.startsWith('yuvj') ? 'full' : 'limited',
    seekTo: seeker(stream, found.format?.start_time),
  }
}

async function ask(path: string, extra: readonly string[]): Promise<z.infer<typeof answer>> {
  const question = ['-v', 'error', '-select_streams', 'v:0', '-show_streams', '-show_format', '-of', 'json']
  let stdout: string
  try {
    const run = await promisify(execFile)('ffprobe', [...question, ...extra, `file:${path}`], {
      maxBuffer: 2 ** 24,
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

/** Where the stream does not say: BT.601 for standard definition, BT.709 above, as players do (common practice). */
function matrixOf(space: string | undefined, height: number): string {
  if (space === 'bt709') return 'bt709'
  if (space === 'bt2020nc' || space === 'bt2020c') return 'bt2020'
  if (space === 'smpte240m') return 'smpte240m'
  if (space === 'fcc') return 'fcc'
  if (space === 'smpte170m' || space === 'bt470bg') return 'bt601'
  return height <= 576 ? 'bt601' : 'bt709'
}

function bitsOf(pixelFormat: string, raw: string | undefined): number {
  if (Number(raw) > 0) return Number(raw)
  return Number(
    /(?:p|gray|gbrp|gbrap|x2rgb|x2bgr)(9|10|12|14|16)(?:le|be)?$/.exec(pixelFormat)?.[1] ??
      (/48|64/.test(pixelFormat) ? 16 : 8),
  )
}

function seeker(
  stream: z.infer<typeof answer>['streams'][number],
  containerStart: string | undefined,
): MovieFacts['seekTo'] {
  const rate = ratio(stream.r_frame_rate)
  const constant = rate !== undefined && rate === ratio(stream.avg_frame_rate)
  // ffmpeg counts seconds from where the container starts, which may be where its sound does
  const offset = Number(stream.start_time ?? 0) - Number(containerStart ?? 0)
  return (wanted) => {
    if (!constant || wanted === 1) return { frame: 1, seconds: null }
    // half a frame early, so that rounding of time stamps can't skip the frame
    return {
      frame: wanted,
      seconds: Math.max(0, (wanted - 1.5) / rate + (Number.isFinite(offset) ? offset : 0)),
    }
  }
}

function ratio(written: string | undefined): number | undefined {
  const [over, under = '1'] = written?.split('/') ?? []
  const value = Number(over) / Number(under)
  return Number.isFinite(value) && value > 0 ? value : undefined
}
