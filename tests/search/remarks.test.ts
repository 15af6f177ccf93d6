// What is said, and made, of footage as it comes from a set: a plate of one frame, a copy that is under way, frames named in
// vain, two rates, broken pixels under a patch's edge. Truth is planted.
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { writeExr } from '../../src/footage/write/exr.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { frame } from '../../src/raster/frame.js'
import { over } from '../../src/repair/over.js'
import { composed } from '../../src/repair/several.js'
import { findDonors } from '../../src/search/hide/find.js'
import { HEIGHT, normal, type Planted, plantPlate, texturedWall, WIDTH } from '../synthetic.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-remarks-'))
afterAll(() => rmSync(folder, { recursive: true }))

const BOX = { x: 60, y: 40, w: 30, h: 30 }
let plate: Planted
beforeAll(async () => {
  plate = await plantPlate(join(folder, 'plate'), {
    frames: 8,
    occluders: (i) => (i === 3 ? [{ x: 66, y: 44, w: 14, h: 20, light: 0.05 }] : []),
  })
})

const remarks = async (more: Partial<Parameters<typeof findDonors>[0]>) =>
  (await findDonors({ target: plate.folder, frames: '1004', box: BOX, ...more })).warnings

test('a plate of one frame lends nothing, and it is said what would', async () => {
  const one = await plantPlate(join(folder, 'one'), { frames: 1 })
  const { candidates, warnings } = await findDonors({ target: one.folder, frames: '1001', box: BOX })
  expect(candidates).toEqual([])
  expect(warnings.join()).toMatch(
    /quay\.####\.png has no frame that may lend besides the target's own; add another plate as a donor/,
  )
})

test('a plate of which only target frames may lend lends nothing, and it is said that more of it may', async () => {
  const own = { frames: '1004-1005', donorFrames: '1004' }
  const { candidates, warnings } = await findDonors({ target: plate.folder, box: BOX, ...own })
  expect(candidates).toEqual([])
  expect(warnings.join()).toContain('let more of its frames lend, or add another plate as a donor')
})

test('frames that are asked to lend, or not to, and are in no plate are named', async () => {
  expect(await remarks({ donorFrames: '1001-1003,3000' })).toContain(
    'of the frames named to lend no plate has 3000',
  )
  expect(await remarks({ notFrames: '990,1001' })).toContain(
    'of the frames named not to lend no plate has 990',
  )
  for (const said of await remarks({ donorFrames: '1001-1003', notFrames: '1002' }))
    expect(said).not.toContain('no plate has')
})

test('a file of no bytes, as a copy under way leaves it, is called empty', async () => {
  const copied = await plantPlate(join(folder, 'copied'), { frames: 8, occluders: () => [] })
  writeFileSync(copied.pathOf(1008), '')
  const [said] = (await remarks({ target: copied.folder })).filter((w) => w.includes('1008'))
  expect(said).toMatch(/quay\.1008\.png can't be read \(the file is empty\): render or copy it again/)
})

test('frames that a broken render left are named in one sentence, with the reason of the first', async () => {
  const broken = await plantPlate(join(folder, 'broken'), { frames: 16, occluders: () => [] })
  for (const number of [1006, 1009, 1010]) writeFileSync(broken.pathOf(number), '')
  const said = (await remarks({ target: broken.folder })).filter((w) => w.includes("can't be read"))
  expect(said).toEqual([
    `${broken.pathOf(1006)} can't be read (the file is empty): render or copy it again (left out of the search; so are 1009-1010, which can't be read either)`,
  ])
})

describe('plates that name their rate', () => {
  const shoot = async (name: string, framesPerSecond: number) => {
    const dir = join(folder, name)
    mkdirSync(dir)
    const wall = texturedWall()
    for (let i = 0; i < 5; i++) {
      const grain = normal(i + framesPerSecond)
      const rgb = frame(HEIGHT, WIDTH, 3)
      for (let k = 0; k < rgb.data.length; k++) {
        const p = Math.floor(k / 3)
        rgb.data[k] = wall(p % WIDTH, Math.floor(p / WIDTH)) * (1 + 0.01 * grain())
      }
      const displayWindow = { x: 0, y: 0, w: WIDTH, h: HEIGHT }
      await writeExr(join(dir, `${name}.${1001 + i}.exr`), rgb, { displayWindow, framesPerSecond })
    }
    return dir
  }

  test('are told apart where it is another one, and not where it is the same by another name', async () => {
    const [a, b, c] = [await shoot('a', 23.976), await shoot('b', 25), await shoot('c', 24000 / 1001)]
    const said = await remarks({ target: a, frames: '1002', donors: [b, c] })
    expect(said.filter((w) => w.includes('frames a second'))).toEqual([
      "the donor plate b.####.exr runs at 25 frames a second, the target's at 23.976: in a run or mirror of it all that moves by itself has another speed",
    ])
  })
})

test('a broken pixel of the plate under the edge of a patch is covered by it', () => {
  const under = frame(
    1,
    4,
    3,
    Float32Array.of(...[0.2, 0.2, 0.2], Number.NaN, 0.2, 0.2, ...[0.2, 0.2, 0.2], Number.NaN, 1, 1),
  )
  const patch = frame(1, 4, 3, new Float32Array(12).fill(0.6))
  const alpha = Float32Array.of(0.5, 0.5, 1, 0)
  const rect = { x: 0, y: 0, w: 4, h: 1 }
  const once = over(new Workspace(), patch, alpha, under)
  const twice = composed([{ rect, patch, alpha, repaired: once }], rect, under).laid.repaired
  for (const { data } of [once, twice]) {
    expect(Array.from(data.subarray(0, 9), (v) => Number(v.toFixed(6)))).toEqual([
      ...[0.4, 0.4, 0.4],
      ...[0.6, 0.4, 0.4],
      ...[0.6, 0.6, 0.6],
    ])
    // Where nothing is laid the plate stays as it is.
    expect(data[9]).toBeNaN()
  }
})
