// Footage that has nothing to say, or says it badly: never NaN, never a crash, always a sentence.
import { copyFileSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { openPlate } from '../../src/footage/plate.js'
import { type FindOptions, findDonors } from '../../src/search/hide/find.js'
import { expectRefusal } from '../refusal.js'
import { normal, type Planted, plantPlate, texturedWall, writeFloatTiff } from '../synthetic.js'
import { expectValid } from './valid.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-hostile-'))
afterAll(() => rmSync(folder, { recursive: true }))

const SMALL = { width: 96, height: 72 }
const BOX = { x: 38, y: 26, w: 20, h: 20 }

function find(target: string, more: Partial<FindOptions> = {}) {
  return findDonors({ target, frames: '1002-1003', box: BOX, reach: 4, surround: 12, keep: 40, ...more })
}

describe('a surround without contrast', () => {
  test.each([
    { title: 'flat and without grain', wall: () => 0.2 },
    { title: 'black', wall: () => 0 },
    { title: 'clipped all over', wall: () => 3 },
  ])('$title has no correlation, and no candidate holds up on it', async ({ title, wall }) => {
    const plate = await plantPlate(join(folder, title), { ...SMALL, frames: 6, noise: 0, wall })
    const result = await find(plate.folder)
    expectValid(result, [plate.frames])
    for (const c of result.candidates) {
      expect(c.ncc).toBeNull()
      expect(c.verdict).not.toBe('holds up')
      expect(c.why).toMatch(/flat|clipped|correlate/)
    }
    if (result.candidates.length === 0) expect(result.warnings.join()).toContain('no frame')
  })

  test('with one textured pixel only is not a lucky 1', async () => {
    const wall = (x: number, y: number) => (x === 30 && y === 40 ? 0.5 : 0.2)
    const plate = await plantPlate(join(folder, 'dot'), { ...SMALL, frames: 6, noise: 0, wall })
    expectValid(await find(plate.folder), [plate.frames])
  })
})

describe('clipped highlights', () => {
  test('in part of the surround do not count towards the light', async () => {
    // A lamp that stays at the top of the range in whatever exposure: it would pull the stops towards 0.
    const base = texturedWall(4)
    const wall = (x: number, y: number) => (x > 62 ? 40 : base(x, y))
    const plate = await plantPlate(join(folder, 'lamp'), {
      ...SMALL,
      frames: 8,
      wall,
      stops: (i) => -0.1 * i,
    })
    const result = await find(plate.folder)
    expectValid(result, [plate.frames])
    const held = result.candidates.filter((c) => c.kind === 'hold')
    expect(held.length).toBeGreaterThan(0)
    for (const c of held)
      for (const f of c.frames) expect(Math.abs(f.stops! - 0.1 * (f.donor - f.target))).toBeLessThan(0.01)
  })
})

test.each([
  { title: 'integers of 32 bits, which are read by their number,', file: 'exr/uint-none.exr', clips: false },
  { title: 'half floats', file: 'exr/half-none.exr', clips: false },
  { title: 'integers of 16 bits', file: 'stills/rgb-16.png', clips: true },
])('$title have a code value that counts as clipped: $clips', async ({ file, clips }) => {
  const plate = await openPlate(join('fixtures', file))
  expect(Number.isFinite(plate.clipLevel)).toBe(clips)
})

describe('a float plate with pixels that are not numbers', () => {
  const wall = texturedWall(6)
  const shoot = (name: string, spoil: (rgb: Float32Array, index: number) => void) => {
    const dir = join(folder, name)
    rmSync(dir, { recursive: true, force: true })
    return plantPlate(dir, { ...SMALL, frames: 1 }).then(() => {
      rmSync(join(dir, 'quay.1001.png'))
      for (let i = 0; i < 8; i++) {
        const grain = normal(i)
        const rgb = new Float32Array(3 * 96 * 72)
        for (let k = 0; k < rgb.length; k++) {
          const p = Math.floor(k / 3)
          rgb[k] = wall(p % 96, Math.floor(p / 96)) * (1 + 0.01 * grain())
        }
        spoil(rgb, i)
        writeFloatTiff(join(dir, `quay.${1001 + i}.tif`), rgb, 96, 72)
      }
      return { dir, frames: Array.from({ length: 8 }, (_, i) => 1001 + i) }
    })
  }
  const at = (x: number, y: number) => 3 * (y * 96 + x)

  test('lets nothing out that is not a number, and holes in the region are not clean', async () => {
    const clean = await shoot('float-clean', () => {})
    const ill = await shoot('float-ill', (rgb, i) => {
      rgb[at(2 + i, 3)] = Number.NaN
      rgb[at(30 + i, 30) + 1] = Number.POSITIVE_INFINITY
      rgb[at(64, 20 + i) + 2] = Number.NEGATIVE_INFINITY
      // Frame 1006 has a hole of a quarter of the region.
      if (i === 5) for (let y = 28; y < 38; y++) for (let x = 40; x < 50; x++) rgb[at(x, y)] = Number.NaN
    })
    const options = { encoding: 'linear' }
    const [before, after] = [await find(clean.dir, options), await find(ill.dir, options)]
    expectValid(after, [ill.frames])
    const holds = after.candidates.filter((c) => c.kind === 'hold')
    expect(holds[0].ncc).toBeGreaterThan(0.98)
    for (const c of after.candidates)
      for (const f of c.frames) {
        if (f.donor === 1006 && f.stack === undefined) expect(f.clean).toBeLessThan(0.8)
      }
    // The good donors do not notice.
    for (const c of holds) {
      const same = before.candidates.find((b) => b.id === c.id)
      if (same === undefined || c.id === 'hold-1006') continue
      expect(Math.abs(c.frames[0].dx - same.frames[0].dx)).toBeLessThan(0.02)
      expect(Math.abs(c.stops! - same.stops!)).toBeLessThan(0.003)
    }
  })

  test('of which one frame is nothing but NaN goes on without it', async () => {
    const plate = await shoot('float-dead', (rgb, i) => {
      if (i === 6) rgb.fill(Number.NaN)
      // Something to hide: of a target that shows the wall alone nothing is worth lending.
      if (i < 3) for (let y = 30; y < 36; y++) rgb.fill(0.9, at(42, y), at(48, y))
    })
    const result = await find(plate.dir, { encoding: 'linear' })
    expectValid(result, [plate.frames])
    expect(result.candidates[0].verdict).not.toBe('will not hold')
    for (const c of result.candidates.filter((c) => c.verdict !== 'will not hold'))
      for (const f of c.frames) expect(f.donor).not.toBe(1007)
  })

  test('that lie in the target’s surround leave the search a surround', async () => {
    const plate = await shoot('float-target', (rgb, i) => {
      if (i === 1) for (let y = 0; y < 72; y++) rgb.fill(Number.NaN, at(60, y), at(64, y))
    })
    const result = await find(plate.dir, { encoding: 'linear' })
    expectValid(result, [plate.frames])
    expect(result.candidates[0].ncc).toBeGreaterThan(0.98)
  })
})

describe('small things', () => {
  let plate: Planted
  beforeAll(async () => {
    // Somebody's hat in the corner on the target's frames.
    const hat = { x: 3, y: 3, w: 8, h: 8, light: 0.9 }
    plate = await plantPlate(join(folder, 'small'), {
      ...SMALL,
      frames: 8,
      occluders: (i) => (i === 1 || i === 2 ? [hat] : []),
    })
  })

  test('a region of one pixel is searched', async () => {
    const result = await find(plate.folder, { box: { x: 48, y: 36, w: 1, h: 1 } })
    expectValid(result, [plate.frames])
    expect(result.candidates.length).toBeGreaterThan(0)
    expect(result.region.box).toEqual([48, 36, 1, 1])
  })

  test('a region in the frame’s corner is searched and the missing sides are said', async () => {
    const result = await find(plate.folder, { box: { x: 0, y: 0, w: 15, h: 15 } })
    expectValid(result, [plate.frames])
    expect(result.candidates[0].verdict).not.toBe('will not hold')
    expect(result.warnings.join()).toContain('left and top')
  })

  test('one target frame has holds and runs, and no mirror pretends otherwise', async () => {
    const result = await find(plate.folder, { frames: '1004' })
    expectValid(result, [plate.frames])
    expect(result.candidates.some((c) => c.kind === 'hold')).toBe(true)
    expect(result.candidates.some((c) => c.kind === 'mirror')).toBe(false)
  })

  test('a plate of one frame has no donor, and that is said', async () => {
    const one = await plantPlate(join(folder, 'one'), { ...SMALL, frames: 1 })
    const result = await find(one.folder, { frames: '1001' })
    expectValid(result, [one.frames])
    expect(result.candidates).toEqual([])
    expect(result.warnings.join()).toContain('no frame of the donor plates can fill')
  })

  test('a range as long as the plate is searched', async () => {
    const result = await find(plate.folder, { frames: '1001-1008' })
    expectValid(result, [plate.frames])
  })
})

describe('frames that can not be read', () => {
  const broken = async (name: string, frames: readonly number[]) => {
    const plate = await plantPlate(join(folder, name), { ...SMALL, frames: 10 })
    for (const f of frames) {
      const bytes = readFileSync(plate.pathOf(f))
      writeFileSync(plate.pathOf(f), bytes.subarray(0, bytes.length >> 1))
    }
    return plate
  }

  test('in the middle are named, and the search goes on without them', async () => {
    const plate = await broken('corrupt', [1006])
    const result = await find(plate.folder)
    expectValid(result, [plate.frames])
    expect(result.warnings.join()).toContain(plate.pathOf(1006))
    expect(result.warnings.join()).toContain('left out')
    const used = result.candidates.flatMap((c) =>
      c.frames.flatMap((f) => f.stack?.map((s) => s.frame) ?? f.donor),
    )
    expect(used.length).toBeGreaterThan(0)
    expect(used).not.toContain(1006)
  })

  test('in the target range are named, and the others are repaired', async () => {
    const plate = await broken('corrupt-target', [1003])
    const result = await find(plate.folder, { frames: '1002-1004' })
    expectValid(result, [plate.frames])
    expect(result.warnings.join()).toContain(plate.pathOf(1003))
    for (const c of result.candidates) expect(c.frames.map((f) => f.target)).toEqual([1002, 1004])
  })

  test('at the very start do not keep the plate from opening', async () => {
    const plate = await broken('corrupt-first', [])
    writeFileSync(plate.pathOf(1001), 'nothing')
    const result = await find(plate.folder)
    expect(result.warnings.join()).toContain(plate.pathOf(1001))
    expect(result.candidates.length).toBeGreaterThan(0)
  })

  test('in most of the plate end the search with the list and both counts', async () => {
    const plate = await broken('ruined', [1002, 1003, 1004, 1005, 1006, 1007])
    await expectRefusal(() => find(plate.folder), {
      code: 'FRAMES_UNREADABLE',
      exitCode: 1,
      says: ['6 of 10', plate.pathOf(1002), plate.pathOf(1007)],
    })
  })

  test('because one has another size are no plate: the first odd frame is named with both sizes', async () => {
    const plate = await broken('odd', [])
    const other = await plantPlate(join(folder, 'odd-source'), { width: 80, height: 60, frames: 1 })
    copyFileSync(other.pathOf(1001), plate.pathOf(1009))
    copyFileSync(other.pathOf(1001), plate.pathOf(1007))
    const refused = await find(plate.folder).catch((error: unknown) => error)
    expect(refused).toMatchObject({ code: 'FRAME_SIZE' })
    const { message } = refused as Error
    for (const part of [plate.pathOf(1007), '80 x 60', '96 x 72']) expect(message).toContain(part)
  })
})

describe('a search that can not be', () => {
  let plate: Planted
  beforeAll(async () => {
    plate = await plantPlate(join(folder, 'asked'), { ...SMALL, frames: 10, gaps: [1005, 1006] })
  })

  test.each<{ title: string; more: Partial<FindOptions>; says: string[]; code?: string }>([
    {
      title: 'frames beyond the plate’s end',
      more: { frames: '1008-1012' },
      code: 'FRAMES_OUTSIDE',
      says: ['1011-1012', 'outside', 'quay.####.png', '1001-1004, 1007-1010', '`frames`'],
    },
    {
      title: 'frame 0',
      more: { frames: '0' },
      code: 'FRAMES_OUTSIDE',
      says: ['frame 0 lies outside', 'outside', '1001-1004, 1007-1010'],
    },
    {
      title: 'frames in a gap',
      more: { frames: '1004-1007' },
      code: 'FRAMES_OUTSIDE',
      says: ['1005-1006', 'missing', '1001-1004, 1007-1010'],
    },
    {
      title: 'donor frames that are not there',
      more: { donorFrames: '1-50' },
      code: 'FRAMES_OUTSIDE',
      says: ['`donorFrames`', 'quay.####.png has 1001-1004, 1007-1010'],
    },
    { title: 'a range backwards', more: { frames: '1004-1002' }, says: ['`frames`', '"1004-1002"'] },
    { title: 'a range in words', more: { frames: 'all' }, says: ['`frames`', '"all"', '1001-1024'] },
    { title: 'no frames', more: { frames: [] }, says: ['`frames`', 'at least one'] },
    { title: 'a reach wider than half the plate', more: { reach: 37 }, says: ['`reach`', '0 to 36', '37'] },
    { title: 'a negative reach', more: { reach: -1 }, says: ['`reach`', '0 to 36', '-1'] },
    { title: 'half a pixel of reach', more: { reach: 2.5 }, says: ['`reach`', '0 to 36', '2.5'] },
    {
      title: 'a surround wider than the plate',
      more: { surround: 90 },
      says: ['`surround`', '2 to 36', '90'],
    },
    { title: 'no surround', more: { surround: 0 }, says: ['`surround`', '2 to 36', '0'] },
    { title: 'no candidates kept', more: { keep: 0 }, says: ['`keep`', 'from 1 up', '0'] },
    { title: 'an unknown encoding', more: { encoding: 'sbgr' }, says: ['`encoding`', 'srgb', '"sbgr"'] },
    { title: 'neither mask nor box', more: { box: undefined }, says: ['`mask`', '`box`', 'neither'] },
    { title: 'both mask and box', more: { mask: 'm.png' }, says: ['`mask`', '`box`', 'both'] },
    {
      title: 'a box over the whole frame',
      more: { box: { x: 0, y: 0, w: 96, h: 72 } },
      code: 'REGION_WHOLE',
      says: ['96 x 72'],
    },
  ])('for $title is refused with both values', async ({ more, says, code = 'MISUSE' }) => {
    await expectRefusal(() => find(plate.folder, more), { code, exitCode: 2, says })
  })

  test('in a donor plate of another size whose place nothing tells is refused with both sizes and its name', async () => {
    const flat = () => 0.2
    const target = await plantPlate(join(folder, 'flat'), {
      width: 96,
      height: 72,
      frames: 4,
      noise: 0,
      wall: flat,
    })
    const other = await plantPlate(join(folder, 'flat-of-other-size'), {
      width: 80,
      height: 60,
      frames: 2,
      noise: 0,
      wall: flat,
    })
    await expectRefusal(() => find(target.folder, { donors: [other.folder], frames: '1001' }), {
      code: 'PLATE_SIZE',
      exitCode: 2,
      says: ['80 x 60', '96 x 72', 'quay.####.png'],
    })
  })

  test('in a donor plate that is not there is refused by its path', async () => {
    const nowhere = join(folder, 'nowhere')
    await expectRefusal(() => find(plate.folder, { donors: [nowhere] }), {
      code: 'PLATE_NOT_FOUND',
      exitCode: 2,
      says: [nowhere],
    })
  })
})
