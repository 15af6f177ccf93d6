// One plate as studios have it: PNG, TIFF, half-float EXR and DPX lead to the same donors.
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import sharp from 'sharp'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { openPlate, readRect } from '../../src/footage/plate.js'
import { writeExr } from '../../src/footage/write/exr.js'
import { writeTiff16 } from '../../src/footage/write/still.js'
import { frame } from '../../src/raster/frame.js'
import { findDonors } from '../../src/search/hide/find.js'
import type { Result } from '../../src/search/result.js'
import { plantPlate } from '../synthetic.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-formats-'))
afterAll(() => rmSync(root, { recursive: true }))

const W = 128
const H = 96
const FORMATS = ['tif', 'exr', 'dpx'] as const

/** 16-bit RGB, big endian, one element, by the table of SMPTE ST 268-1; what is left out is 0xff, undefined. */
function dpx(codes: Uint16Array): Buffer {
  const bytes = Buffer.alloc(2048 + 2 * codes.length, 0xff)
  bytes.write('SDPX', 0, 'latin1')
  bytes.writeUInt32BE(2048, 4)
  bytes.write('V1.0\0', 8, 'latin1')
  bytes.writeUInt32BE(bytes.length, 16)
  bytes.writeUInt16BE(0, 768) // left to right, top to bottom
  bytes.writeUInt16BE(1, 770) // elements
  bytes.writeUInt32BE(W, 772)
  bytes.writeUInt32BE(H, 776)
  bytes.writeUInt32BE(0, 780) // unsigned
  bytes[800] = 50 // RGB
  bytes[801] = 0 // transfer: user defined
  bytes[802] = 0
  bytes[803] = 16 // bits
  bytes.writeUInt16BE(0, 804) // packed
  bytes.writeUInt16BE(0, 806) // not run-length encoded
  bytes.writeUInt32BE(2048, 808)
  bytes.writeUInt32BE(0, 812) // no padding
  for (let i = 0; i < codes.length; i++) bytes.writeUInt16BE(codes[i], 2048 + 2 * i)
  return bytes
}

let png: Result
const others = new Map<string, Result>()
beforeAll(async () => {
  const planted = await plantPlate(join(root, 'png'), {
    width: W,
    height: H,
    frames: 14,
    stops: (i) => 0.1 * Math.sin(i),
    sway: (i) => [1.3 * Math.sin(0.7 * i), 0.9 * Math.cos(0.5 * i)],
    occluders: (i) => (i < 5 ? [{ x: 50 + 2 * i, y: 38, w: 16, h: 20, light: 0.03 }] : []),
  })
  for (const format of FORMATS) mkdirSync(join(root, format))
  const plate = await openPlate(planted.folder)
  for (const number of plate.frames) {
    const image = sharp(plate.pathOf(number)).removeAlpha().toColourspace('rgb16')
    const { data } = await image.raw({ depth: 'ushort' }).toBuffer({ resolveWithObject: true })
    const codes = new Uint16Array(data.buffer, data.byteOffset, data.byteLength / 2)
    const scaled = frame(
      H,
      W,
      3,
      Float32Array.from(codes, (c) => c / 65535),
    )
    await writeTiff16(join(root, 'tif', `quay.${number}.tif`), scaled)
    const linear = await readRect(plate, number, { x: 0, y: 0, w: W, h: H })
    await writeExr(join(root, 'exr', `quay.${number}.exr`), linear, {
      displayWindow: { x: 0, y: 0, w: W, h: H },
    })
    writeFileSync(join(root, 'dpx', `quay.${number}.dpx`), dpx(codes))
  }
  const ask = { box: { x: 48, y: 34, w: 30, h: 28 }, frames: '1002-1004', reach: 6, surround: 16 }
  png = await findDonors({ ...ask, target: join(root, 'png') })
  for (const format of FORMATS) {
    const encoding = format === 'dpx' ? 'srgb' : 'auto'
    others.set(format, await findDonors({ ...ask, target: join(root, format), encoding }))
  }
}, 60_000)

describe.each(FORMATS)('the plate as %s', (format) => {
  test('has the same first candidate', () => {
    expect(png.candidates.length).toBeGreaterThan(2)
    expect(others.get(format)!.candidates[0].id).toBe(png.candidates[0].id)
  })

  test('has its offsets within 0.02 px and its stops within 0.01', () => {
    const pairs = others.get(format)!.candidates[0].frames
    for (const [i, wanted] of png.candidates[0].frames.entries()) {
      expect(pairs[i].donor).toBe(wanted.donor)
      expect(Math.abs(pairs[i].dx - wanted.dx)).toBeLessThan(0.02)
      expect(Math.abs(pairs[i].dy - wanted.dy)).toBeLessThan(0.02)
      expect(Math.abs(pairs[i].stops! - wanted.stops!)).toBeLessThan(0.01)
    }
  })
})
