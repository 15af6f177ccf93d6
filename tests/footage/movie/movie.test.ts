// Movies, made here by ffmpeg from pictures whose every value is known. Without ffmpeg these tests are skipped:
// install ffmpeg 5.1 or newer (Debian: apt-get install ffmpeg) to have them.
import { execFileSync, spawnSync } from 'node:child_process'
import { readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterEach, describe, expect, test, vi } from 'vitest'
import { openPlate, type Plate, readRect } from '../../../src/footage/plate.js'
import { readRects } from '../../../src/footage/read-many.js'
import type { Rect } from '../../../src/raster/rect.js'
import { freshFolder, greyPng, put } from '../folder.js'

// every test starts several programs, which a busy machine may take seconds over
vi.setConfig({ testTimeout: 60_000 })

const hasFfmpeg =
  spawnSync('ffmpeg', ['-version']).status === 0 && spawnSync('ffprobe', ['-version']).status === 0

const [WIDTH, HEIGHT, FRAMES] = [96, 64, 24]
const WHOLE = { x: 0, y: 0, w: WIDTH, h: HEIGHT }
/** Frame n (from 1) is all of code value codeOf(n). */
const codeOf = (n: number, levels: number): number => Math.round(((n + 2) / (FRAMES + 8)) * levels)

/** Encodes raw frames, each made by `picture`, with these ffmpeg output arguments. */
async function movie(
  name: string,
  inputFormat: string,
  picture: (n: number) => Uint8Array | Uint16Array,
  output: string,
  {
    inputArguments = '',
    frames = FRAMES,
    rate = '24',
  }: { inputArguments?: string; frames?: number; rate?: string } = {},
): Promise<string> {
  const path = join(await freshFolder(), name)
  const bytes = Array.from({ length: frames }, (_, i) => {
    const { buffer, byteOffset, byteLength } = picture(i + 1)
    return new Uint8Array(buffer, byteOffset, byteLength)
  })
  const input = ['-f', 'rawvideo', '-pix_fmt', inputFormat, '-s', `${WIDTH}x${HEIGHT}`, '-r', rate]
  const extra = inputArguments.split(' ').filter(Boolean)
  execFileSync('ffmpeg', ['-v', 'error', ...input, ...extra, '-i', '-', ...output.split(' '), path], {
    input: Buffer.concat(bytes),
  })
  return path
}

/** 10-bit 4:2:2 YCbCr, no chroma: luma code `codeOf`. */
const grey10 = (n: number): Uint16Array => {
  const planes = new Uint16Array(WIDTH * HEIGHT * 2).fill(512)
  planes.fill(64 + Math.round((codeOf(n, 1023) / 1023) * 876), 0, WIDTH * HEIGHT)
  return planes
}

const noise = (n: number, length: number): Uint8Array => {
  let state = n * 2654435761
  return Uint8Array.from({ length }, () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0
    return state >>> 24
  })
}

const first = (plate: Plate, frame: number): Promise<number> =>
  readRect(plate, frame, { x: 40, y: 30, w: 1, h: 1 }).then((p) => p.data[0]!)

describe.runIf(hasFfmpeg)('a movie', () => {
  test.each([
    ['lossless RGB in mkv, 8 bits', 'quay.mkv', 'gbrp', '-c:v ffv1', 'gbrp'],
    ['lossless in avi', 'quay.avi', 'gbrp', '-c:v ffv1', 'gbrp'],
    [
      'H.264 with B-frames in mp4',
      'quay.mp4',
      'gbrp',
      '-c:v libx264 -bf 3 -g 12 -crf 1 -pix_fmt yuv420p',
      '',
    ],
    [
      'MPEG-2 with B-frames in mxf',
      'quay.mxf',
      'gbrp',
      '-c:v mpeg2video -bf 2 -g 12 -q:v 1 -pix_fmt yuv422p',
      '',
    ],
    ['8-bit intra in mxf', 'quay.mxf', 'gbrp', '-c:v mpeg2video -g 1 -bf 0 -q:v 1 -pix_fmt yuv422p', ''],
    ['ten-bit intra in mov', 'quay.mov', 'gbrp', '-c:v prores_ks -profile:v 3', ''],
  ])('%s: every frame comes by its number, alone and in a stream', async (_, name, format, output, exact) => {
    const path = await movie(
      name,
      format,
      (n) => new Uint8Array(WIDTH * HEIGHT * 3).fill(codeOf(n, 255)),
      output,
    )
    const plate = await openPlate(path, { encoding: 'linear' })
    expect(plate).toMatchObject({
      first: 1,
      last: FRAMES,
      gaps: [],
      width: WIDTH,
      height: HEIGHT,
      name,
      spec: path,
    })
    expect(plate.frames).toHaveLength(FRAMES)
    expect(plate.info.framesPerSecond).toBeCloseTo(24, 6)
    // half the step from one frame to the next tells neighbours apart in a lossy movie
    const off = exact ? 1e-6 : 0.4 * ((codeOf(2, 255) - codeOf(1, 255)) / 255)
    for (const n of [2, 13]) {
      expect(Math.abs((await first(plate, n)) - codeOf(n, 255) / 255), `frame ${n}`).toBeLessThan(off)
    }
    const numbers: number[] = []
    for await (const { frame, picture, error } of readRects(plate, [FRAMES, 5, 6, 1], WHOLE)) {
      if (error) throw error
      expect(Math.abs(picture.get(30, 40, 0) - codeOf(frame, 255) / 255), `frame ${frame}`).toBeLessThan(off)
      numbers.push(frame)
    }
    expect(numbers).toEqual([1, 5, 6, FRAMES])
  })

  test('a variable frame rate does not lose count', async () => {
    const path = await movie(
      'quay.mkv',
      'gbrp',
      (n) => new Uint8Array(WIDTH * HEIGHT * 3).fill(codeOf(n, 255)),
      "-vf setpts='N*N/24/TB/10' -fps_mode passthrough -c:v ffv1",
    )
    const plate = await openPlate(path, { encoding: 'linear' })
    expect(plate.frames).toHaveLength(FRAMES)
    for (const n of [2, 20]) expect(await first(plate, n)).toBeCloseTo(codeOf(n, 255) / 255, 5)
  })

  test('trimmed without being encoded again it has the frames that it shows, whatever its header counts', async () => {
    const all = await movie(
      'quay.mp4',
      'gbrp',
      (n) => new Uint8Array(WIDTH * HEIGHT * 3).fill(codeOf(n, 255)),
      '-c:v libx264 -bf 3 -g 48 -crf 1 -pix_fmt yuv420p',
    )
    const path = join(await freshFolder(), 'trimmed.mp4')
    // all from the one key frame on is copied, and an edit list says that it is shown from here on
    execFileSync('ffmpeg', ['-v', 'error', '-ss', '0.76', '-i', all, '-c', 'copy', path])
    const ask = (entry: string) =>
      Number(
        execFileSync('ffprobe', [
          ...['-v', 'error', '-count_frames', '-show_entries', `stream=${entry}`, '-of', 'csv=p=0', path],
        ]),
      )
    // counted by ffprobe, which decodes for it
    const shown = ask('nb_read_frames')
    expect(ask('nb_frames')).toBeGreaterThan(2 * shown)
    const plate = await openPlate(path, { encoding: 'linear' })
    expect(plate.frames).toHaveLength(shown)
    const off = 0.4 * ((codeOf(2, 255) - codeOf(1, 255)) / 255)
    const wanted = (n: number) => codeOf(FRAMES - shown + n, 255) / 255
    for (const n of [1, shown]) expect(Math.abs((await first(plate, n)) - wanted(n))).toBeLessThan(off)
    for await (const { frame, picture, error } of readRects(plate, plate.frames, WHOLE)) {
      if (error) throw error
      expect(Math.abs(picture.get(30, 40, 0) - wanted(frame)), `frame ${frame}`).toBeLessThan(off)
    }
  })

  test('a movie may have one frame', async () => {
    const grey = () => new Uint8Array(WIDTH * HEIGHT * 3).fill(51)
    for (const name of ['quay.mkv', 'quay.avi', 'quay.mov']) {
      const path = await movie(name, 'gbrp', grey, '-c:v ffv1', { frames: 1 })
      const plate = await openPlate(path, { encoding: 'linear' })
      expect(plate.frames, name).toEqual([1])
      expect(await first(plate, 1), name).toBeCloseTo(0.2, 6)
    }
  })

  test('lossless RGB comes back to the last bit, whatever the rectangle', async () => {
    const path = await movie(
      'quay.mkv',
      'rgb24',
      (n) => noise(n, WIDTH * HEIGHT * 3),
      '-c:v ffv1 -pix_fmt bgr0',
    )
    const plate = await openPlate(path, { encoding: 'linear' })
    for (const rect of [WHOLE, { x: 17, y: 5, w: 31, h: 23 }]) {
      const picture = await readRect(plate, 7, rect)
      const stored = noise(7, WIDTH * HEIGHT * 3)
      for (let y = 0; y < rect.h; y++) {
        for (let x = 0; x < rect.w; x++) {
          for (let c = 0; c < 3; c++) {
            const code = stored[((rect.y + y) * WIDTH + rect.x + x) * 3 + c]!
            expect(picture.get(y, x, c)).toBe(Math.fround(code / 255))
          }
        }
      }
    }
  })

  test.each([
    ['8 bits, 4:2:0', 'yuv420p', '8-bit'],
    ['10 bits, 4:2:2', 'yuv422p10le', '10-bit'],
    ['8 bits, 4:1:1', 'yuv411p', '8-bit'],
    ['12 bits, 4:4:4', 'yuv444p12le', '12-bit'],
  ])('%s: a rectangle is that part of the whole frame, chroma too', async (_, format, depth) => {
    const path = await movie(
      'quay.mkv',
      'rgb24',
      (n) => noise(n, WIDTH * HEIGHT * 3),
      `-c:v ffv1 -pix_fmt ${format}`,
      {
        frames: 3,
      },
    )
    const plate = await openPlate(path, { encoding: 'linear' })
    expect(plate.bitDepth).toBe(depth)
    const whole = await readRect(plate, 2, WHOLE)
    const rects: Rect[] = [
      { x: 33, y: 21, w: 30, h: 19 },
      { x: 79, y: 47, w: 17, h: 17 },
    ]
    for (const rect of rects) {
      const part = await readRect(plate, 2, rect)
      for (let y = 0; y < rect.h; y++) {
        for (let x = 0; x < rect.w; x++) {
          for (let c = 0; c < 3; c++) expect(part.get(y, x, c)).toBe(whole.get(rect.y + y, rect.x + x, c))
        }
      }
    }
  })

  test('ten bits are kept: neighbouring luma codes stay apart, by BT.709 limited range', async () => {
    const path = await movie('quay.mkv', 'yuv422p10le', (n) => grey10(n), '-c:v ffv1')
    const plate = await openPlate(path, { encoding: 'linear' })
    for (const n of [1, 2]) {
      const luma = grey10(n)[0]!
      // ITU-R BT.709-6 item 3.4: R' = (D - 64) / 876 for a grey
      expect(Math.abs((await first(plate, n)) - (luma - 64) / 876)).toBeLessThan(1e-6)
    }
  })

  test.each([
    // [tagged matrix, ITU-R Kr and Kb]
    ['bt709', 0.2126, 0.0722],
    ['smpte170m', 0.299, 0.114],
    ['bt2020nc', 0.2627, 0.0593],
  ])('the matrix %s is honoured, in full and in limited range', async (matrix, kr, kb) => {
    const [luma, blue, red] = [500, 600, 430]
    const planes = new Uint16Array(WIDTH * HEIGHT * 3)
    planes.fill(luma, 0, WIDTH * HEIGHT)
    planes.fill(blue, WIDTH * HEIGHT, 2 * WIDTH * HEIGHT)
    planes.fill(red, 2 * WIDTH * HEIGHT)
    for (const range of matrix === 'bt709' ? ['tv', 'pc'] : ['tv']) {
      const tags = `-colorspace ${matrix} -color_range ${range}`
      const path = await movie('quay.mkv', 'yuv444p10le', () => planes, `-c:v ffv1 ${tags}`, {
        frames: 2,
        inputArguments: tags,
      })
      const plate = await openPlate(path, { encoding: 'linear' })
      const found = [...(await readRect(plate, 2, { x: 50, y: 30, w: 1, h: 1 })).data]
      // ITU-R BT.709-6 items 3.2 to 3.4, BT.601-7 and BT.2020-2: Y' and colour differences, quantised to 10 bits
      const [y, cb, cr] =
        range === 'tv'
          ? [(luma - 64) / 876, (blue - 512) / 896, (red - 512) / 896]
          : [luma / 1023, (blue - 512) / 1023, (red - 512) / 1023]
      const r = y! + 2 * (1 - kr) * cr!
      const b = y! + 2 * (1 - kb) * cb!
      const g = (y! - kr * r - kb * b) / (1 - kr - kb)
      for (const [i, wanted] of [r, g, b].entries()) {
        expect(
          Math.abs(found[i]! - wanted),
          `${range} channel ${i}: ${found[i]}, not ${wanted}`,
        ).toBeLessThan(1e-6)
      }
    }
  })

  test.each([
    ['bt709', 'rec709', 'the movie says its transfer is bt709'],
    ['iec61966-2-1', 'srgb', 'the movie says its transfer is iec61966-2-1'],
    ['linear', 'linear', 'the movie says its transfer is linear'],
    [
      'smpte2084',
      'srgb',
      'the movie says its transfer is smpte2084, which is not decoded, so sRGB is assumed',
    ],
  ])('the transfer %s is taken for %s', async (transfer, encoding, why) => {
    const path = await movie(
      'quay.mkv',
      'yuv444p10le',
      () => new Uint16Array(WIDTH * HEIGHT * 3).fill(512),
      `-c:v ffv1 -color_trc ${transfer}`,
      {
        frames: 2,
      },
    )
    expect(await openPlate(path)).toMatchObject({ encoding, encodingWhy: why, format: 'mkv' })
  })

  test('without a transfer it is taken for sRGB, and says so', async () => {
    const path = await movie('quay.mkv', 'gbrp', (n) => noise(n, WIDTH * HEIGHT * 3), '-c:v ffv1', {
      frames: 2,
    })
    expect(await openPlate(path)).toMatchObject({
      encoding: 'srgb',
      encodingWhy: 'nothing in the MKV says otherwise, so sRGB is assumed',
    })
  })

  test('its pixel aspect, rate and time code are read; a turned phone movie keeps its stored size', async () => {
    const path = await movie(
      'quay.mov',
      'gbrp',
      (n) => noise(n, WIDTH * HEIGHT * 3),
      '-vf setsar=2/1 -c:v prores_ks -timecode 01:02:03:04 -metadata:s:v rotate=90',
      { frames: 3, rate: '24000/1001' },
    )
    const plate = await openPlate(path)
    expect(plate.pixelAspect).toBe(2)
    expect(plate.info.framesPerSecond).toBeCloseTo(24000 / 1001, 6)
    expect(plate.info.timeCode).toBe('01:02:03:04')
    expect((await readRect(plate, 3, WHOLE)).shape).toEqual([HEIGHT, WIDTH, 3])
  })

  test('a folder that holds one movie opens it; beside a sequence it is not looked at', async () => {
    const path = await movie('quay.mkv', 'gbrp', (n) => noise(n, WIDTH * HEIGHT * 3), '-c:v ffv1', {
      frames: 2,
    })
    const folder = join(path, '..')
    expect((await openPlate(folder)).name).toBe('quay.mkv')
    expect((await openPlate(join(folder, '*.mkv'))).name).toBe('quay.mkv')
    await put(folder, 'quay.1001.png', await greyPng())
    expect((await openPlate(folder)).name).toBe('quay.####.png')
  })

  test('whatever it is called, it is a file like any other', async () => {
    const grey = () => new Uint8Array(WIDTH * HEIGHT * 3).fill(51)
    const bytes = readFileSync(await movie('quay.mkv', 'gbrp', grey, '-c:v ffv1', { frames: 2 }))
    for (const name of ['http:x.mkv', `🙂%d it's|-i.mkv`]) {
      const plate = await openPlate(await put(await freshFolder(), name, bytes), { encoding: 'linear' })
      expect(await first(plate, 2), name).toBeCloseTo(0.2, 6)
    }
  })

  test('a frame past its end is missing', async () => {
    const path = await movie('quay.mkv', 'gbrp', (n) => noise(n, WIDTH * HEIGHT * 3), '-c:v ffv1', {
      frames: 3,
    })
    const plate = await openPlate(path)
    for (const frame of [0, 4, 1.5]) {
      await expect(readRect(plate, frame, WHOLE)).rejects.toThrow(
        expect.objectContaining({
          code: 'FRAME_MISSING',
          message: expect.stringContaining(`${path} has no frame ${frame}: it has 1 to 3`),
        }),
      )
    }
  })

  test.each([
    // every frame of it stands alone, about 18 kB each
    ['ends before its header says', 0.6, Number.POSITIVE_INFINITY, 8],
    ['is damaged half-way', 0.5, 900, 15],
  ])(
    'where its data %s the other frames come, and those that do not are named',
    async (_, from, length, atMost) => {
      const made = await movie(
        'quay.mov',
        'gbrp',
        (n) => noise(n, WIDTH * HEIGHT * 3),
        '-c:v png -movflags +faststart',
        { frames: 16 },
      )
      const bytes = readFileSync(made)
      const at = Math.floor(bytes.length * from)
      const harmed =
        length < bytes.length ? Buffer.from(bytes).fill(0x55, at, at + length) : bytes.subarray(0, at)
      const path = await put(await freshFolder(), 'quay.mov', harmed)
      const plate = await openPlate(path, { encoding: 'linear' })
      const good: number[] = []
      const bad: number[] = []
      for await (const { frame, picture, error } of readRects(plate, plate.frames, WHOLE)) {
        if (picture) {
          good.push(frame)
          // the first plane is green
          expect(picture.data[1], `frame ${frame}`).toBeCloseTo(noise(frame, 1)[0]! / 255, 6)
          continue
        }
        bad.push(frame)
        expect(error).toMatchObject({ code: 'FRAME_UNREADABLE', exitCode: 1 })
        expect(error.message).toContain(`${path} can't be read at frame ${frame} (`)
        expect(error.message).toMatch(/: export the movie again$/)
      }
      expect(good.length).toBeGreaterThan(6)
      expect(bad.length).toBeGreaterThan(0)
      expect(good.length).toBeLessThanOrEqual(atMost + 2)
      expect([...good, ...bad].sort((a, b) => a - b)).toEqual(plate.frames)
      if (length === 900) {
        // the damage is a twentieth of a frame long: it takes one, or two where it lies across their border, and
        // ffmpeg drops the good one before them
        expect(bad.length).toBeLessThanOrEqual(3)
        expect(good.at(-1)).toBe(16)
      }
    },
  )

  test('a file that only calls itself a movie, and one without a picture, are refused', async () => {
    const folder = await freshFolder()
    const text = await put(folder, 'a.mov', 'not a movie')
    await expect(openPlate(text)).rejects.toThrow(
      expect.objectContaining({
        code: 'MOVIE_UNREADABLE',
        exitCode: 1,
        message: expect.stringMatching(
          /a\.mov can't be read as a movie \(.+\): export it again, or as an image sequence$/,
        ),
      }),
    )
    const sound = join(folder, 'b.mkv')
    execFileSync('ffmpeg', [
      '-v',
      'error',
      '-f',
      'lavfi',
      '-i',
      'sine=duration=1',
      '-c:a',
      'pcm_s16le',
      sound,
    ])
    await expect(openPlate(sound)).rejects.toThrow(
      expect.objectContaining({
        code: 'MOVIE_UNREADABLE',
        message: `${sound} holds no video: export it again, or as an image sequence`,
      }),
    )
  })

  test('stopping early ends ffmpeg', async () => {
    const path = await movie('quay.mkv', 'gbrp', (n) => noise(n, WIDTH * HEIGHT * 3), '-c:v ffv1')
    const plate = await openPlate(path)
    for await (const { frame } of readRects(plate, plate.frames, WHOLE)) {
      expect(frame).toBe(1)
      break
    }
    await vi.waitFor(() => expect(childrenNamed('ffmpeg')).toEqual([]), { timeout: 3000 })
  })
})

describe('without ffmpeg', () => {
  const path = process.env.PATH
  afterEach(() => {
    process.env.PATH = path
  })

  test('a movie is refused with what to install', async () => {
    const folder = await freshFolder()
    const file = await put(folder, 'quay.mov', 'whatever it holds')
    process.env.PATH = folder
    await expect(openPlate(file)).rejects.toThrow(
      expect.objectContaining({
        code: 'MOVIE_NEEDS_FFMPEG',
        exitCode: 1,
        message:
          `${file} is a movie, which takes ffmpeg and ffprobe, and they did not start: install ffmpeg 5.1 or newer so ` +
          'that both commands are found, or convert the movie to an image sequence',
      }),
    )
  })
})

/** Child processes of this one that run a program of this name (Linux; elsewhere none are seen). */
function childrenNamed(name: string): string[] {
  try {
    return readdirSync('/proc').filter((id) => {
      if (!/^\d+$/.test(id)) return false
      try {
        const [, program, , parent] = /^\d+ \((.*)\) (\S) (\d+)/.exec(
          readFileSync(`/proc/${id}/stat`, 'utf8'),
        )!
        return program === name && Number(parent) === process.pid
      } catch {
        return false
      }
    })
  } catch {
    return []
  }
}
