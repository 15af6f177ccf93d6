import { execFileSync, spawnSync } from 'node:child_process'
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { DataUtils, FloatType, HalfFloatType } from 'three'
import { EXRLoader } from 'three/examples/jsm/loaders/EXRLoader.js'
import { afterAll, describe, expect, test } from 'vitest'
import { type ExrOptions, encodeExr, writeExr } from '../../../src/footage/write/exr.js'
import { type Frame, frame } from '../../../src/raster/frame.js'
import { bitsToHalf, halfToFloat } from '../../../src/raster/half.js'
import { randomFrom } from '../../random.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-write-exr-'))
afterAll(() => rmSync(folder, { recursive: true }))

const HAS_OPENEXR = ['exrheader', 'exrinfo'].every((tool) => spawnSync(tool, ['-h']).error === undefined)
const HAS_OPENIMAGEIO = spawnSync('/usr/bin/python3', ['-c', 'import OpenImageIO, numpy']).status === 0

/** A machine with much else to do may take seconds to start another program. */
const TOOLS_MS = 30_000

/** Smooth light with grain, so that ZIP has something to do and something it can't do. */
function picture(height: number, width: number, channels: number): Frame {
  const image = frame(height, width, channels)
  let noise = 1
  for (let i = 0; i < image.data.length; i++) {
    noise = (Math.imul(noise, 1664525) + 1013904223) >>> 0
    image.data[i] = 0.18 + 0.1 * Math.sin(i / 50) + noise / 2 ** 36
  }
  return image
}

function nearestHalf(value: number): number {
  return halfToFloat(bitsToHalf(new Uint32Array(Float32Array.of(value).buffer)[0]!))
}

/** three's loader gives RGBA with the bottom row first; this turns it into rows from the top, `channels` wide. */
function readByThree(
  bytes: Uint8Array,
  type: 'half' | 'float',
  channels: number,
): { data: number[]; header: Header } {
  const loader = new EXRLoader().setDataType(type === 'half' ? HalfFloatType : FloatType)
  const copy = new Uint8Array(bytes).buffer
  const { data, width, height, header } = loader.parse(copy) as unknown as {
    data: Uint16Array
    width: number
    height: number
    header: Header
  }
  const out: number[] = []
  for (let y = height - 1; y >= 0; y--) {
    for (let i = y * width * 4; i < (y + 1) * width * 4; i++) {
      if (i % 4 < channels) out.push(type === 'half' ? DataUtils.fromHalfFloat(data[i]!) : data[i]!)
    }
  }
  return { data: out, header }
}
type Header = Record<string, unknown>

const WHOLE = { x: 0, y: 0, w: 37, h: 35 }
const CASES = (['half', 'float'] as const).flatMap((pixelType) =>
  (['zip', 'none'] as const).flatMap((compression) =>
    [3, 4].map((channels) => ({ pixelType, compression, channels })),
  ),
)

const METADATA: ExrOptions = {
  displayWindow: { x: 0, y: 0, w: 200, h: 100 },
  origin: { x: 40, y: -3 },
  pixelAspect: 2,
  framesPerSecond: 23.976,
  timeCode: '09:58:31:17',
  imageCounter: -7,
  chromaticities: [0.64, 0.33, 0.3, 0.6, 0.15, 0.06, 0.3127, 0.329],
}

describe('an EXR as written', () => {
  // Outside: three's EXRLoader.
  test.each(CASES)(
    '$pixelType, $compression, $channels channels: another reader sees the same values',
    (c) => {
      const image = picture(35, 37, c.channels)
      const { data } = readByThree(encodeExr(image, { displayWindow: WHOLE, ...c }), c.pixelType, c.channels)
      const wanted = Array.from(image.data, c.pixelType === 'half' ? nearestHalf : (v) => v)
      expect(data).toEqual(wanted)
    },
  )

  // Outside: OpenImageIO, which reads by OpenEXR itself.
  test.skipIf(!HAS_OPENIMAGEIO).each(CASES)(
    '$pixelType, $compression, $channels channels: OpenImageIO sees the same values (skipped where it is not installed)',
    async (c) => {
      const image = picture(35, 37, c.channels)
      const path = join(folder, `${c.pixelType}-${c.compression}-${c.channels}.exr`)
      await writeExr(path, image, { ...METADATA, ...c })
      const header = JSON.parse(
        execFileSync('/usr/bin/python3', ['tests/reference/exr-read.py', path, `${path}.bin`], {
          encoding: 'utf8',
        }),
      )
      expect(header).toMatchObject({
        width: 37,
        height: 35,
        x: 40,
        y: -3,
        full: [0, 0, 200, 100],
        channels: ['R', 'G', 'B', 'A'].slice(0, c.channels),
        format: c.pixelType,
        compression: c.compression,
        pixelAspect: 2,
        framesPerSecond: [24000, 1001],
        timeCode: [0x09583117, 0],
        imageCounter: -7,
      })
      const data = new Float32Array(new Uint8Array(readFileSync(`${path}.bin`)).buffer)
      expect(data).toEqual(c.pixelType === 'half' ? image.data.map(nearestHalf) : image.data)
    },
    TOOLS_MS,
  )

  // Outside: OpenEXR's own tools.
  test.skipIf(!HAS_OPENEXR).each(CASES)(
    "$pixelType, $compression, $channels channels: OpenEXR's tools accept it (skipped where they are not installed)",
    (c) => {
      const path = join(folder, `tools-${c.pixelType}-${c.compression}-${c.channels}.exr`)
      writeFileSync(path, encodeExr(picture(35, 37, c.channels), { ...METADATA, ...c }))
      const info = spawnSync('exrinfo', ['-v', '-s', path], { encoding: 'utf8' })
      // Not its exit code: Debian's exrinfo 3.1.5 ends with a random one on files that it prints in full.
      expect(info).toMatchObject({ signal: null, stderr: '' })
      expect(info.stdout).toContain(` channels: chlist ${c.channels} channels`)
      expect(info.stdout).toContain('dataWindow: box2i [ 40, -3 - 76 31 ] 37 x 35')
      const header = execFileSync('exrheader', [path], { encoding: 'utf8' })
      expect(header).toContain('dataWindow (type box2i): (40 -3) - (76 31)')
      expect(header).toContain('displayWindow (type box2i): (0 0) - (199 99)')
      expect(header).toContain('framesPerSecond (type rational): 24000/1001')
      expect(header).toContain('time 09:58:31:17')
      expect(header).toMatch(/white \(0\.3127 0\.329\)/)
    },
    TOOLS_MS,
  )

  test('a picture of one pixel, and one a row higher than a block, are whole', () => {
    for (const [height, width] of [
      [1, 1],
      [17, 3],
      [16, 1],
    ] as const) {
      const image = picture(height, width, 3)
      const bytes = encodeExr(image, {
        displayWindow: { x: 0, y: 0, w: width, h: height },
        pixelType: 'float',
      })
      expect(readByThree(bytes, 'float', 3).data).toEqual([...image.data])
    }
  })

  test('ZIP makes smooth light smaller and never makes noise larger than leaving it alone', () => {
    const options = { displayWindow: WHOLE } as const
    const smooth = frame(35, 37, 3)
    smooth.data.fill(0.18)
    const none = encodeExr(smooth, { ...options, compression: 'none' }).length
    expect(encodeExr(smooth, options).length).toBeLessThan(none / 4)
    const noise = frame(35, 37, 3)
    let state = 5
    for (let i = 0; i < noise.data.length; i++) {
      state = (Math.imul(state, 1664525) + 1013904223) >>> 0
      noise.data[i] = halfToFloat(state >>> 17 >= 0x7c00 ? state >>> 18 : state >>> 17)
    }
    expect(encodeExr(noise, options).length).toBeLessThanOrEqual(none)
  })

  test('light beyond the largest half becomes the largest half, is counted, and never is infinity', async () => {
    const image = frame(1, 2, 3, Float32Array.of(65504, 65505, 1e30, Number.POSITIVE_INFINITY, -1e6, 1))
    const path = join(folder, 'bright.exr')
    expect(await writeExr(path, image, { displayWindow: { x: 0, y: 0, w: 2, h: 1 } })).toEqual({ clamped: 4 })
    const { data } = readByThree(readFileSync(path), 'half', 3)
    expect(data).toEqual([65504, 65504, 65504, 65504, -65504, 1])
  })

  test('NaN is refused with its place, unless the frame must come out as it went in', () => {
    const image = frame(1, 2, 3, Float32Array.of(1, 1, 1, 1, Number.NaN, Number.POSITIVE_INFINITY))
    const options = { displayWindow: { x: 0, y: 0, w: 2, h: 1 } }
    expect(() => encodeExr(image, options)).toThrow(
      new RangeError('the picture has NaN at x 1, y 0, channel 1'),
    )
    const kept = readByThree(encodeExr(image, { ...options, nonFinite: 'keep' }), 'half', 3).data
    expect(kept).toEqual([1, 1, 1, 1, Number.NaN, Number.POSITIVE_INFINITY])
  })

  test('the picture handed in is not changed', () => {
    const image = picture(20, 9, 4)
    image.data[3] = 1e9
    const before = image.data.slice()
    encodeExr(image, { displayWindow: { x: 0, y: 0, w: 9, h: 20 } })
    expect(image.data).toEqual(before)
  })

  test('what is deflated on several threads is the same file, of smooth light and of noise that does not deflate', async () => {
    const random = randomFrom('threads')
    for (const pixelType of ['half', 'float'] as const)
      for (const channels of [3, 4] as const)
        for (const noise of [0, 4]) {
          const image = picture(131, 57, channels)
          for (let i = 0; i < image.data.length; i++) image.data[i]! += noise * (random() - 0.5)
          const options = { displayWindow: { x: -2, y: 3, w: 57, h: 131 }, pixelType }
          const path = join(folder, `${pixelType}-${channels}-${noise}.exr`)
          await writeExr(path, image, options)
          expect(readFileSync(path).equals(encodeExr(image, options))).toBe(true)
        }
  })

  test('an existing patch is refused before anything is encoded and keeps its bytes', async () => {
    const path = join(folder, 'there.exr')
    writeFileSync(path, 'old')
    const nan = frame(1, 1, 3, Float32Array.of(Number.NaN, 0, 0))
    const options = { displayWindow: { x: 0, y: 0, w: 1, h: 1 } }
    await expect(writeExr(path, nan, options)).rejects.toMatchObject({ code: 'OUTPUT_EXISTS' })
    expect(readFileSync(path, 'utf8')).toBe('old')
    expect(readdirSync(folder).filter((name) => name.endsWith('.part'))).toEqual([])
  })

  test('a picture without pixels or with one channel is refused with its shape', () => {
    const options = { displayWindow: WHOLE }
    expect(() => encodeExr(frame(0, 4, 3), options)).toThrow('got [0, 4, 3]')
    expect(() => encodeExr(frame(4, 4, 1), options)).toThrow('got [4, 4, 1]')
  })
})
