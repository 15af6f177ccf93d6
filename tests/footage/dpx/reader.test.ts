import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, test } from 'vitest'
import { dpxReader } from '../../../src/footage/dpx/reader.js'

const FIXTURES = 'fixtures/dpx'
const WIDTH = 22
const HEIGHT = 14
const WHOLE = { x: 0, y: 0, w: WIDTH, h: HEIGHT }
const folder = mkdtempSync(join(tmpdir(), 'offcut-dpx-'))
afterAll(() => rmSync(folder, { recursive: true }))

const NAMES = readdirSync(FIXTURES).filter((name) => name.endsWith('.dpx'))

/** What fixtures/dpx/make.py gave to OpenImageIO, FFmpeg or its own packer, as [height, width, 3] of 0 to 1. */
function planted(name: string): { data: Float32Array; bits: number } {
  const bits = Number(/-(8|10|12|16)[-.]/.exec(name)![1])
  const codes = readFileSync(join(FIXTURES, `codes-${bits}.bin`))
  const data = new Float32Array(WIDTH * HEIGHT * 3)
  for (let i = 0; i < data.length; i++) {
    const channel = name.startsWith('luma') ? 0 : i % 3
    data[i] = codes.readUInt16LE((Math.floor(i / 3) * 4 + channel) * 2) / (2 ** bits - 1)
  }
  return { data, bits }
}

/** A fixture with header fields changed, big endian. */
function changed(name: string, change: (bytes: Buffer) => Buffer | undefined): string {
  const bytes = readFileSync(join(FIXTURES, name))
  const path = join(folder, `${Math.random().toString(36).slice(2)}.dpx`)
  writeFileSync(path, change(bytes) ?? bytes)
  return path
}

describe('a DPX frame', () => {
  test('every layout that is read has a fixture', () => {
    expect(NAMES).toHaveLength(30)
  })

  // Outside: OpenImageIO and FFmpeg, as fixtures/dpx/make.py says file by file.
  test.each(NAMES)('%s gives the codes it was made from', async (name) => {
    const { data, bits } = planted(name)
    const info = await dpxReader.probe(join(FIXTURES, name))
    expect(info).toMatchObject({ width: WIDTH, height: HEIGHT, bitDepth: `${bits}-bit` })
    const read = await dpxReader.read(join(FIXTURES, name), WHOLE)
    expect(read.shape).toEqual([HEIGHT, WIDTH, 3])
    expect(read.data).toEqual(data)
  })

  test.each(NAMES)('%s: any rectangle is what the whole frame has there', async (name) => {
    const whole = planted(name).data
    for (const rect of [
      { x: 0, y: 0, w: 1, h: 1 },
      { x: 21, y: 13, w: 1, h: 1 },
      { x: 5, y: 3, w: 7, h: 6 },
      { x: 1, y: 0, w: 20, h: 1 },
      { x: 16, y: 2, w: 6, h: 12 },
    ]) {
      const { data } = await dpxReader.read(join(FIXTURES, name), rect)
      for (let y = 0, i = 0; y < rect.h; y++) {
        for (let x = 0; x < rect.w * 3; x++, i++) {
          const wanted = whole[((rect.y + y) * WIDTH + rect.x) * 3 + x]
          if (data[i] !== wanted)
            expect.fail(`${JSON.stringify(rect)} at row ${y}, sample ${x}: ${data[i]}, not ${wanted}`)
        }
      }
    }
  })
})

describe('what a DPX header says', () => {
  // SMPTE 268M-2003 table 5A.
  test.each([
    [1, 'cineon'],
    [2, 'linear'],
    [3, 'cineon'],
    [5, 'rec709'],
    [6, 'rec709'],
    [0, undefined],
    [4, undefined],
    [255, undefined],
  ])('transfer characteristic %i is %s', async (code, encoding) => {
    const path = changed('rgb-10-a-be.dpx', (b) => {
      b[801] = code
      return b
    })
    expect((await dpxReader.probe(path)).encodingHint?.encoding).toBe(encoding)
  })

  test('undefined fields are left out, filled ones are told', async () => {
    const bare = await dpxReader.probe(join(FIXTURES, 'rgb-10-a-late-le.dpx'))
    expect(bare).toEqual({
      width: 22,
      height: 14,
      bitDepth: '10-bit',
      channels: ['R', 'G', 'B'],
      pixelAspect: 1,
    })
    const path = changed('rgb-10-a-be.dpx', (b) => {
      b.writeUInt32BE(2, 1628)
      b.writeUInt32BE(1, 1632)
      b.writeUInt32BE(0x10203004, 1920)
      b.writeFloatBE(25, 1940)
      b.writeUInt32BE(1071, 1712)
      return b
    })
    expect(await dpxReader.probe(path)).toMatchObject({
      pixelAspect: 2,
      timeCode: '10:20:30:04',
      framesPerSecond: 25,
      imageCounter: 1071,
    })
  })
})

describe('a broken DPX is refused in a few words', () => {
  const setU32 = (at: number, value: number) => (b: Buffer) => {
    b.writeUInt32BE(value, at)
    return b
  }
  const setU8 = (at: number, value: number) => (b: Buffer) => {
    b[at] = value
    return b
  }
  const setU16 = (at: number, value: number) => (b: Buffer) => {
    b.writeUInt16BE(value, at)
    return b
  }
  test.each<[string, (b: Buffer) => Buffer, string]>([
    ['empty', () => Buffer.alloc(0), 'not a DPX'],
    ['wrong magic', setU32(0, 0x01020304), 'not a DPX'],
    ['cut in its header', (b) => b.subarray(0, 900), 'ends inside its header, after 900 bytes'],
    [
      'cut in its last row',
      (b) => b.subarray(0, b.length - 1),
      'ends before its last row: 9424 bytes are needed, there are 9423',
    ],
    ['a gigantic width', setU32(772, 0x7fffffff), 'has a size of 2147483647 x 14'],
    ['an undefined height', setU32(776, 0xffffffff), 'has a size of 22 x 4294967295'],
    ['no pixels', setU32(772, 0), 'has a size of 0 x 14'],
    ['no elements', setU16(770, 0), 'has 0 image elements'],
    ['chroma samples', setU8(800, 100), 'holds image elements of kind 100'],
    ['a bit depth of 32', setU8(803, 32), 'has 32 bits per sample'],
    ['an unknown packing', setU16(804, 5), 'is packed by method 5'],
    ['run lengths', setU16(806, 1), 'run-length'],
    ['signed samples', setU32(780, 1), 'signed'],
    ['samples inside the header', setU32(808, 100), 'has its samples at byte 100'],
    ['samples beyond the file', setU32(808, 0x7fffffff), 'ends before its last row'],
    ['padding beyond the file', setU32(812, 0x70000000), 'bytes of padding after each row'],
    ['columns for rows', setU16(768, 5), 'column by column'],
  ])('%s', async (_, change, words) => {
    const path = changed('rgb-10-a-be.dpx', change)
    for (const attempt of [() => dpxReader.probe(path), () => dpxReader.read(path, WHOLE)]) {
      const refusal = expect.objectContaining({
        name: 'BadFile',
        code: 'DPX_BAD',
        message: expect.stringContaining(words),
      })
      await expect(attempt()).rejects.toThrow(refusal)
    }
  })
})
