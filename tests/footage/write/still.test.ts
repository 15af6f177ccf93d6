import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import sharp from 'sharp'
import { afterAll, describe, expect, test } from 'vitest'
import { stillReader } from '../../../src/footage/stills/reader.js'
import { writePng16, writeTiff16 } from '../../../src/footage/write/still.js'
import { frame } from '../../../src/raster/frame.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-write-still-'))
afterAll(() => rmSync(folder, { recursive: true }))

const WRITERS = [
  { name: 'png', write: writePng16 },
  { name: 'tif', write: writeTiff16 },
] as const

describe.each(WRITERS)('a 16-bit $name', ({ name, write }) => {
  test.each([3, 4])('with %i channels gives every sample back', async (channels) => {
    const image = frame(19, 23, channels)
    for (let i = 0; i < image.data.length; i++) image.data[i] = ((i * 7919) % 65536) / 65535
    const path = join(folder, `samples-${channels}.${name}`)
    expect(await write(path, image)).toEqual({ clamped: 0 })
    const { data, info } = await sharp(path)
      .toColourspace('rgb16')
      .raw({ depth: 'ushort' })
      .toBuffer({ resolveWithObject: true })
    expect(info).toMatchObject({ width: 23, height: 19, channels })
    const samples = new Uint16Array(new Uint8Array(data).buffer)
    for (let i = 0; i < samples.length; i++) expect(samples[i]).toBe((i * 7919) % 65536)
    expect(await sharp(path).metadata()).toMatchObject({ depth: 'ushort', space: 'rgb16' })
  })

  test('colour under a thin alpha is written as given, neither divided nor multiplied', async () => {
    const image = frame(1, 2, 4, Float32Array.of(0.5, 0.25, 0.125, 0.1, 1, 1, 1, 0))
    const path = join(folder, `alpha.${name}`)
    await write(path, image)
    const read = await stillReader.read(path, { x: 0, y: 0, w: 2, h: 1 })
    expect(read.data[0]).toBeCloseTo(0.5, 4)
    expect([...read.data.subarray(3)]).toEqual([1, 1, 1])
  })

  test('samples outside 0 to 1 are clamped and counted, NaN is refused', async () => {
    const path = join(folder, `clamped.${name}`)
    expect(await write(path, frame(1, 1, 3, Float32Array.of(-0.5, 1.5, 0.5)))).toEqual({ clamped: 2 })
    const read = await stillReader.read(path, { x: 0, y: 0, w: 1, h: 1 })
    expect([...read.data.subarray(0, 2)]).toEqual([0, 1])
    const nan = frame(1, 1, 3, Float32Array.of(0, Number.NaN, 0))
    await expect(write(join(folder, `nan.${name}`), nan)).rejects.toThrow('NaN at sample 1')
  })
})
