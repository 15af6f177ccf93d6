import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { open } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, test, vi } from 'vitest'
import { option } from '../../../src/errors.js'
import { exrReader } from '../../../src/footage/exr/reader.js'
import { encodeExr } from '../../../src/footage/write/exr.js'
import { frame } from '../../../src/raster/frame.js'

const FIXTURES = 'fixtures/exr/'
const WHOLE = { x: 0, y: 0, w: 27, h: 37 }
const folder = mkdtempSync(join(tmpdir(), 'offcut-exr-'))
afterAll(() => rmSync(folder, { recursive: true }))

let files = 0
function saved(bytes: Uint8Array): string {
  const path = join(folder, `${files++}.exr`)
  writeFileSync(path, bytes)
  return path
}

/** A fixture with a header attribute's bytes replaced, found by name and type. */
function withAttribute(name: string, attribute: string, type: string, value: Buffer): string {
  const bytes = readFileSync(FIXTURES + name)
  const at = bytes.indexOf(`${attribute}\0${type}\0`, 0, 'latin1') + attribute.length + type.length + 6
  expect(at).toBeGreaterThan(20)
  value.copy(bytes, at)
  return saved(bytes)
}

function ints(...values: number[]): Buffer {
  const out = Buffer.alloc(4 * values.length)
  values.forEach((v, i) => {
    out.writeInt32LE(v, 4 * i)
  })
  return out
}

describe('what an EXR header says', () => {
  test('pixel aspect, frame rate, time code and chromaticities are told, so that a patch can carry them', async () => {
    const info = await exrReader.probe(`${FIXTURES}metadata.exr`)
    expect(info).toMatchObject({
      bitDepth: 'half',
      pixelAspect: 2,
      timeCode: '09:58:31:17',
      channels: ['R', 'G', 'B'],
    })
    expect(info.framesPerSecond).toBeCloseTo(23.976, 3)
    expect(info.chromaticities?.map((v) => Number(v.toFixed(4)))).toEqual([
      0.708, 0.292, 0.17, 0.797, 0.131, 0.046, 0.3127, 0.329,
    ])
  })

  test('what a patch carried over comes back the same', async () => {
    const metadata = {
      pixelAspect: 1.25,
      framesPerSecond: 30000 / 1001,
      timeCode: '10:00:00;02',
      imageCounter: 1071,
    }
    const displayWindow = { x: 3, y: -4, w: 12, h: 10 }
    const path = saved(encodeExr(frame(2, 2, 4), { displayWindow, origin: { x: 5, y: 0 }, ...metadata }))
    expect(await exrReader.probe(path)).toMatchObject({
      ...metadata,
      displayWindow,
      channels: ['R', 'G', 'B', 'A'],
    })
  })

  test('pixels outside the data window are 0, those inside lie where the display window counts them', async () => {
    const image = frame(2, 2, 3)
    image.data.fill(1)
    const displayWindow = { x: 10, y: 20, w: 5, h: 4 }
    const path = saved(encodeExr(image, { displayWindow, origin: { x: 11, y: 22 } }))
    const { data } = await exrReader.read(path, { x: 0, y: 0, w: 5, h: 4 })
    const rows = Array.from({ length: 4 }, (_, y) =>
      Array.from({ length: 5 }, (_, x) => data[(y * 5 + x) * 3]),
    )
    expect(rows).toEqual([
      [0, 0, 0, 0, 0],
      [0, 0, 0, 0, 0],
      [0, 1, 1, 0, 0],
      [0, 1, 1, 0, 0],
    ])
  })

  test('NaN and infinity come through as they are', async () => {
    const values = [Number.NaN, Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY, 65504, 0, 1]
    for (const pixelType of ['half', 'float'] as const) {
      const image = frame(1, 2, 3, Float32Array.from(values))
      const displayWindow = { x: 0, y: 0, w: 2, h: 1 }
      const path = saved(encodeExr(image, { displayWindow, pixelType, nonFinite: 'keep' }))
      expect([...(await exrReader.read(path, displayWindow)).data]).toEqual(values)
    }
  })
})

describe('layers', () => {
  test('the unnamed one is the picture; the named ones are listed', async () => {
    const info = await exrReader.probe(`${FIXTURES}layers-zip.exr`)
    expect(info.channels).toEqual(['R', 'G', 'B', 'A'])
    expect(info.layers).toEqual(['fog', 'quay', 'water'])
    const parts = await exrReader.probe(`${FIXTURES}parts.exr`)
    expect(parts.channels).toEqual(['R', 'G', 'B', 'A'])
    expect(parts.layers).toEqual(['depth', 'beauty', 'quay', 'fog'])
  })

  test('a layer of its own bit depth and channels says so', async () => {
    const info = await exrReader.probe(`${FIXTURES}layers-zip.exr`, { layer: 'water' })
    expect(info).toMatchObject({ bitDepth: 'float', channels: ['water.R', 'water.G', 'water.B'] })
    expect(await exrReader.probe(`${FIXTURES}layers-zip.exr`, { layer: 'fog' })).toMatchObject({
      channels: ['fog.Y'],
    })
  })

  test('where there is no main picture and several could be meant, all are named with the option, and none is read', async () => {
    const path = `${FIXTURES}which-layer.exr`
    const refusal = {
      code: 'LAYER_AMBIGUOUS',
      exitCode: 2,
      message: `${path} has no main picture, and 2 layers could be meant: N (N.X, N.Y, N.Z); beauty (beauty.R, beauty.G, beauty.B): name one of them, such as ${option('layer')} N`,
    }
    await expect(exrReader.probe(path)).rejects.toMatchObject(refusal)
    await expect(exrReader.read(path, WHOLE)).rejects.toMatchObject(refusal)
    expect(await exrReader.probe(path, { layer: 'beauty' })).toMatchObject({ layers: ['N', 'beauty'] })
  })

  test('a layer that the file does not have is refused with those it has', async () => {
    const path = `${FIXTURES}layers-zip.exr`
    await expect(exrReader.read(path, WHOLE, { layer: 'quai' })).rejects.toMatchObject({
      name: 'OffcutError',
      code: 'LAYER_UNKNOWN',
      exitCode: 2,
      message: `${path} has no layer "quai": choose one of fog, quay, water`,
    })
    await expect(exrReader.probe(`${FIXTURES}half-zip.exr`, { layer: 'quay' })).rejects.toThrow(
      'leave `layer` out',
    )
  })
})

describe('reading little of a large frame', () => {
  test('a rectangle takes a small share of the bytes of a file with many chunks', async () => {
    const image = frame(512, 256, 3)
    let state = 1
    for (let i = 0; i < image.data.length; i++) {
      state = (Math.imul(state, 1664525) + 1013904223) >>> 0
      image.data[i] = state / 2 ** 32
    }
    const bytes = encodeExr(image, { displayWindow: { x: 0, y: 0, w: 256, h: 512 } })
    const path = saved(bytes)
    const handle = await open(path)
    const read = vi.spyOn(Object.getPrototypeOf(handle), 'read')
    await handle.close()
    const { data } = await exrReader.read(path, { x: 100, y: 250, w: 20, h: 20 })
    const taken = read.mock.calls.reduce((sum, call) => sum + (call[2] as number), 0)
    read.mockRestore()
    expect(data[0]).toBeCloseTo(image.data[(250 * 256 + 100) * 3]!, 3)
    // 3 of 32 chunks and the header's first read
    expect(taken).toBeGreaterThan(bytes.length / 32)
    expect(taken).toBeLessThan(bytes.length / 8 + 16384)
  })
})

describe('a broken EXR is refused in a few words', () => {
  const cut = (name: string, length: number): string =>
    saved(readFileSync(FIXTURES + name).subarray(0, length))
  /** Where the first chunk of a single-part file begins: right after the table. */
  const chunkAt = (bytes: Buffer, chunks: number): number => {
    const table = bytes.indexOf(Buffer.from('screenWindowWidth'))
    for (let at = table; ; at++)
      if (Number(bytes.readBigUInt64LE(at)) === at + 8 * chunks) return at + 8 * chunks
  }
  const inChunk = (name: string, chunks: number, change: (bytes: Buffer, at: number) => void): string => {
    const bytes = readFileSync(FIXTURES + name)
    change(bytes, chunkAt(bytes, chunks))
    return saved(bytes)
  }
  const box = (...values: number[]): [string, string, Buffer] => ['dataWindow', 'box2i', ints(...values)]

  test.each<[string, () => string, string]>([
    ['empty', () => saved(new Uint8Array()), 'ends inside its header, after 0 bytes'],
    ['another format', () => saved(Buffer.from('P6 20 20 255 and so on')), 'is not an EXR'],
    ['cut in its header', () => cut('half-zip.exr', 150), 'ends inside its header, after 150 bytes'],
    ['cut in its chunk table', () => inHeaderTable(), 'ends inside its chunk table'],
    ['cut in a chunk', () => cut('half-zip.exr', 2500), 'ends inside the rows from'],
    ['a later version', () => saved(Buffer.concat([ints(20000630, 3), Buffer.alloc(20)])), 'version 3'],
    [
      'unknown features',
      () => saved(Buffer.concat([ints(20000630, 0x2002), Buffer.alloc(20)])),
      'unknown feature flags',
    ],
    [
      'a gigantic window',
      () => withAttribute('half-zip.exr', ...box(0, 0, 0x3fffffff, 36)),
      'which is no picture',
    ],
    [
      'a window of gigapixels',
      () => withAttribute('half-zip.exr', ...box(0, 0, 60000, 60000)),
      '60001 x 60001',
    ],
    [
      'a window inside out',
      () => withAttribute('half-zip.exr', ...box(5, 0, 4, 36)),
      'from (5, 0) to (4, 36)',
    ],
    [
      'a window wider than its rows',
      () => withAttribute('half-zip.exr', ...box(0, 0, 20000, 36)),
      "can't become",
    ],
    [
      'far more rows than bytes',
      () => withAttribute('half-rle.exr', ...box(0, 0, 26, 100000)),
      'inside its chunk table',
    ],
    [
      'an unknown compression',
      () => withAttribute('half-zip.exr', 'compression', 'compression', Buffer.of(77)),
      'method 77',
    ],
    [
      'another compression',
      () => withAttribute('half-zip.exr', 'compression', 'compression', Buffer.of(1)),
      'expected 1 to 216',
    ],
    [
      'tiles of no size',
      () => withAttribute('tiled-zip.exr', 'tiles', 'tiledesc', ints(0, 0)),
      'tiles of 0 x 0',
    ],
    ['deep samples only', () => `${FIXTURES}deep.exr`, 'holds deep samples only'],
    [
      'chunks never written',
      () => inChunk('half-zip.exr', 3, (b, at) => b.fill(0, at - 24, at)),
      'is not finished',
    ],
    [
      'a chunk of another place',
      () => inChunk('half-zip.exr', 3, (b, at) => b.writeInt32LE(7, at)),
      'has 7 where the rows from 0',
    ],
    [
      'a chunk of huge size',
      () => inChunk('half-zip.exr', 3, (b, at) => b.writeInt32LE(0x7fffffff, at + 4)),
      '2147483647 bytes',
    ],
    [
      'a chunk of negative size',
      () => inChunk('half-zip.exr', 3, (b, at) => b.writeInt32LE(-5, at + 4)),
      '-5 bytes',
    ],
    [
      'zlib data that is none',
      () => inChunk('half-zip.exr', 3, (b, at) => b.fill(9, at + 8, at + 40)),
      'does not inflate',
    ],
    [
      'PIZ with a broken code',
      () => inChunk('half-piz.exr', 2, (b, at) => b.fill(255, at + 900, at + 1500)),
      'broken',
    ],
    [
      'B44 cut in a block',
      () => inChunk('half-b44.exr', 2, (b, at) => b.fill(255, at + 8, at + 200)),
      'B44 chunk',
    ],
    [
      'DWA of gigabytes',
      () => inChunk('half-dwaa.exr', 2, (b, at) => b.fill(255, at + 8 + 64, at + 8 + 68)),
      'DWA chunk',
    ],
  ])('%s', async (_, make, words) => {
    const path = make()
    const attempt = exrReader.read(path, WHOLE)
    await expect(attempt).rejects.toMatchObject({ name: 'BadFile', code: 'EXR_BAD' })
    await expect(attempt).rejects.toThrow(words)
  })

  function inHeaderTable(): string {
    const bytes = readFileSync(`${FIXTURES}half-none.exr`)
    return saved(bytes.subarray(0, chunkAt(bytes, 37) - 100))
  }

  test('an attribute that claims more bytes than the file has ends the header, whatever it claims', async () => {
    for (const size of [0x7fffffff, 1 << 20, -1]) {
      const bytes = readFileSync(`${FIXTURES}half-zip.exr`)
      const at = bytes.indexOf('channels\0chlist\0', 0, 'latin1') + 16
      bytes.writeInt32LE(size, at)
      await expect(exrReader.probe(saved(bytes))).rejects.toMatchObject({ code: 'EXR_BAD' })
    }
  })

  test('300 bytes cannot ask for gigabytes', async () => {
    const before = process.memoryUsage()
    for (const name of [
      'half-zip.exr',
      'half-piz.exr',
      'half-dwab.exr',
      'half-b44a.exr',
      'half-rle.exr',
      'half-pxr24.exr',
    ]) {
      const bytes = readFileSync(withAttribute(name, ...box(0, 0, 100000, 900)))
      const short = saved(bytes.subarray(0, 400))
      await expect(exrReader.read(short, WHOLE)).rejects.toMatchObject({ code: 'EXR_BAD' })
    }
    const after = process.memoryUsage()
    expect(after.rss + after.arrayBuffers - before.rss - before.arrayBuffers).toBeLessThan(100 << 20)
  })

  test('a folder or a device is not read', async () => {
    await expect(exrReader.probe('/dev/zero')).rejects.toThrow('is not a file')
  })
})
