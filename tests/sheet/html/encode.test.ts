import sharp from 'sharp'
import { describe, expect, test } from 'vitest'
import {
  CODINGS,
  type Coding,
  codingName,
  pictureFile,
  STILL_CODING,
} from '../../../src/sheet/html/encode.js'
import { random } from '../quayside.js'

const SIDE = 256
const FROM = 96
const TO = 160

/** Display codes of a wall with grain of sigma codes, and in its middle a patch that is brighter by one sigma. */
function patchedWall(sigma: number, textured: boolean): Uint8Array {
  const noise = random(7)
  const normal = () => Math.sqrt(-2 * Math.log(noise() + 1e-9)) * Math.cos(2 * Math.PI * noise())
  const out = new Uint8Array(SIDE * SIDE * 3)
  for (let y = 0, i = 0; y < SIDE; y++) {
    for (let x = 0; x < SIDE; x++) {
      const inside = x >= FROM && x < TO && y >= FROM && y < TO
      const joints = textured && (y % 14 < 2 || (x + 17 * (Math.floor(y / 14) % 2)) % 34 < 2) ? -25 : 0
      const base = 130 + 20 * Math.sin(x * 0.07) * Math.cos(y * 0.05) + joints + (inside ? sigma : 0)
      for (let c = 0; c < 3; c++, i++)
        out[i] = Math.max(0, Math.min(255, Math.round(base + sigma * normal())))
    }
  }
  return out
}

function luma(a: Uint8Array, x: number, y: number): number {
  const i = 3 * (y * SIDE + x)
  return 0.299 * a[i] + 0.587 * a[i + 1] + 0.114 * a[i + 2]
}

/** Mean step from the last pixel outside the patch to the first inside, all four sides, corners left out. */
function edge(a: Uint8Array): number {
  let sum = 0
  let n = 0
  for (let k = FROM + 3; k < TO - 3; k++) {
    for (const [inner, outer] of [
      [FROM, FROM - 1],
      [TO - 1, TO],
    ]) {
      sum += luma(a, inner, k) - luma(a, outer, k) + luma(a, k, inner) - luma(a, k, outer)
      n += 2
    }
  }
  return sum / n
}

async function after(wall: Uint8Array, coding: Coding): Promise<Uint8Array> {
  return sharp(await pictureFile(wall, { w: SIDE, h: SIDE }, coding))
    .removeAlpha()
    .raw()
    .toBuffer()
}

/** How much of the edge is left, the wall's own structure taken off by the same wall without a patch. */
async function edgeLeft(sigma: number, textured: boolean, coding: Coding): Promise<number> {
  const wall = patchedWall(sigma, textured)
  const plain = edge(patchedWall(0, textured))
  return (edge(await after(wall, coding)) - plain) / (edge(wall) - plain)
}

const named = CODINGS.map((coding) => ({ name: codingName(coding), coding }))

describe('a seam one grain high, in the pictures that the page carries', () => {
  test.each(named)(
    'keeps four fifths of its edge on brick, grain of 2.5 codes: $name',
    async ({ coding }) => {
      expect(await edgeLeft(2.5, true, coding)).toBeGreaterThan(0.8)
    },
  )

  test.each(named)(
    'keeps four fifths of its edge on a flat wall, grain of 4 codes: $name',
    async ({ coding }) => {
      expect(await edgeLeft(4, false, coding)).toBeGreaterThan(0.8)
    },
  )

  test('keeps it in the stills too', async () => {
    expect(await edgeLeft(2.5, true, STILL_CODING)).toBeGreaterThan(0.8)
  })

  test('would be lost at the quality that pictures on the web usually have, so this test can fail', async () => {
    expect(await edgeLeft(2.5, false, { format: 'webp', quality: 75 })).toBeLessThan(0.6)
  })
})

describe('the codings', () => {
  test('get smaller from the first to the last', async () => {
    const wall = patchedWall(2.5, true)
    const sizes = await Promise.all(
      CODINGS.map(async (c) => (await pictureFile(wall, { w: SIDE, h: SIDE }, c)).length),
    )
    expect([...sizes].sort((a, b) => b - a)).toEqual(sizes)
  })
})
