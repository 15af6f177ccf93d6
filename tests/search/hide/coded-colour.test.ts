// Chroma that a coarse coding rounds to steps, by blocks: it makes empty frames differ in colour, and is nobody's coat.
import { mkdirSync, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import sharp from 'sharp'
import { afterAll, describe, expect, test } from 'vitest'
import { floatsToHalves } from '../../../src/raster/half.js'
import { IDENTITY } from '../../../src/raster/transform.js'
import { findDonors } from '../../../src/search/hide/find.js'
import { RegionColours } from '../../../src/search/hide/region-colours.js'
import type { Registered } from '../../../src/search/register.js'
import { keyOf } from '../../../src/shot/frame-key.js'
import { FIRST, plantPlate, random, texturedWall, type Wall } from '../../synthetic.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-coded-'))
afterAll(() => rmSync(root, { recursive: true }))

// Planted, and coded by libjpeg (ITU-T T.81).
test('the steps of a coarse coding are no other colour: no reason names one', async () => {
  const box = { x: 56, y: 36, w: 48, h: 44 }
  const rough = texturedWall(6)
  const wall: Wall = (x, y) => 0.2 * (rough(x, y) / 0.2) ** 0.1
  const [first, last] = [14, 19]
  const plate = join(root, 'plate')
  // Grain and a light that drifts tip blocks over the edge of a step.
  const { folder, frames } = await plantPlate(join(root, 'shot'), {
    frames: 48,
    wall,
    stops: (i) => 0.02 * Math.sin(i),
    occluders: (i) =>
      i >= first && i <= last ? [{ x: box.x + 6, y: box.y + 6, w: 34, h: 30, light: 0.02 }] : [],
  })
  mkdirSync(plate)
  for (const f of frames)
    await sharp(join(folder, `quay.${f}.png`))
      .jpeg({ quality: 25, chromaSubsampling: '4:2:0' })
      .toFile(join(plate, `quay.${f}.jpg`))
  const { candidates } = await findDonors({
    target: plate,
    box,
    frames: `${FIRST + first}-${FIRST + last}`,
    reach: 4,
  })
  expect(candidates.length).toBeGreaterThan(3)
  for (const { id, why } of candidates) expect(why, id).not.toMatch(/colour/)
}, 60_000)

const SIDE = 64
const WINDOW = { x: 0, y: 0, w: SIDE, h: SIDE }
/** Of a coding that keeps chroma at half of the size. */
const BLOCK_PX = 16
const BLOCKS = SIDE / BLOCK_PX
const FRAMES = 40
const TARGET = 1020
const GREY = 0.2
/** Display code values of 255 that red lies over green by, in stops at that grey: the slope of sRGB there is 0.156 a stop. */
const stopsOf = (codes: number) => codes / 255 / 0.156

interface Painted {
  /** What a block of a frame is off by, codes. */
  readonly block: (frame: number, block: number) => number
  /** And a coat, on these frames. */
  readonly coat?: { readonly codes: number; readonly on: (frame: number) => boolean }
}

/** Tiles of each frame that have another colour. */
function otherTiles({ block, coat }: Painted): Map<number, number> {
  const frames = Array.from({ length: FRAMES }, (_, i): Registered => {
    const still = { aligned: new Float32Array(0), validity: new Uint8Array(0), exposure: 0, held: true }
    return { plate: 0, frame: 1001 + i, pose: IDENTITY, ...still }
  })
  const inside = new Float32Array(SIDE * SIDE).fill(1)
  const masks = new Map([[TARGET, { inside, surround: new Float32Array(SIDE * SIDE) }]])
  const region = { box: WINDOW, window: WINDOW, surroundPx: 0, frames: masks, empty: [], notes: [] }
  const [targets, usual] = [true, false].map((is) => frames.filter((f) => (f.frame === TARGET) === is))
  const colours = new RegionColours(region, { targets, usual: [usual], frames, steady: new Map() })
  const halves = new Uint16Array(3 * SIDE * SIDE)
  const light = new Float32Array(halves.length)
  for (const frame of frames) {
    for (let y = 0, p = 0; y < SIDE; y++)
      for (let x = 0; x < SIDE; x++, p += 3) {
        const where = Math.floor(y / BLOCK_PX) * BLOCKS + Math.floor(x / BLOCK_PX)
        const inCoat = coat?.on(frame.frame) && x >= 12 && x < 36 && y >= 10 && y < 50
        const codes = inCoat ? coat!.codes : block(frame.frame, where)
        light.set([GREY * 2 ** stopsOf(codes), GREY, GREY], p)
      }
    floatsToHalves(light, halves)
    colours.add(frame, halves, { rect: WINDOW, clip: 1e4 })
  }
  const otherwise = colours.otherwise(() => [0, 0, 0])
  return new Map(frames.map((f) => [f.frame, otherwise.get(keyOf(f))!.filter((times) => times >= 1).length]))
}

/** Blocks that lie a step off on one frame in twenty, each for itself. */
function rounded(codes: number): Painted['block'] {
  const off = Uint8Array.from({ length: FRAMES * BLOCKS ** 2 }, () => 0)
  const even = random(5)
  for (let i = 0; i < off.length; i++) off[i] = even() < 0.05 ? 1 : 0
  return (frame, block) => (off[(frame - 1001) * BLOCKS ** 2 + block] === 1 ? codes : 0)
}

describe('a region whose blocks lie a step of chroma off now and then, planted', () => {
  test('is empty on nearly all frames, whatever the step is', () => {
    for (const codes of [4, 7, 9, 11]) {
      const others = [...otherTiles({ block: rounded(codes) }).values()].filter((n) => n > 0)
      expect(others.length, `${codes} codes`).toBeLessThanOrEqual(0.1 * FRAMES)
    }
  })

  test('still tells a coat that is further off than any step, on as many frames as it is', () => {
    for (const share of [1, 3, 8])
      for (const codes of [0, 9]) {
        const on = (frame: number) => frame % share === 0 && frame < 1012
        const others = otherTiles({ block: rounded(codes), coat: { codes: 24, on } })
        for (const [frame, tiles] of others) if (on(frame)) expect(tiles, `${frame}`).toBeGreaterThan(10)
      }
  })

  test('and without any step a coat that is eight codes off', () => {
    const on = (frame: number) => frame === 1009 || frame === 1030
    const others = otherTiles({ block: () => 0, coat: { codes: 8, on } })
    for (const [frame, tiles] of others) expect(tiles > 0, `${frame}`).toBe(on(frame))
  })
})
