// Law: a mask that is a numbered SVG a frame is on each frame what that SVG is as a still.
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, test } from 'vitest'
import { openPlate } from '../../src/footage/plate.js'
import { loadAvoided, loadMasks } from '../../src/region/mask.js'
import { expectRefusal } from '../refusal.js'
import { plantPlate } from '../synthetic.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-drawn-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))

const size = { width: 160, height: 120 }
const frames = [1001, 1002, 1003]
const at = join(folder, 'region')
mkdirSync(at)
const fileOf = (frame: number) => join(at, `region.${frame}.svg`)
for (const [i, frame] of frames.entries())
  writeFileSync(
    fileOf(frame),
    `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 160 120"><rect width="160" height="120"/><circle cx="${40 + 7.3 * i}" cy="${50 - 3.1 * i}" r="20" fill="white"/></svg>`,
  )

test.each([
  ['its folder', at],
  ['a pattern', join(at, 'region.####.svg')],
  ['a printf pattern', join(at, 'region.%04d.svg')],
])('a sequence of SVGs by %s is on each frame the still', async (_, spec) => {
  const masks = await loadMasks(spec, size, frames)
  const sums = new Set<number>()
  for (const frame of frames) {
    const still = (await loadMasks(fileOf(frame), size, [frame])).get(frame)!
    expect(masks.get(frame)).toEqual(still)
    sums.add(still.rect.x)
  }
  // They differ, so that one in the place of another would have been seen.
  expect(sums.size).toBe(frames.length)
})

test('one of them by its own name is a still for all frames', async () => {
  const masks = await loadMasks(fileOf(1002), size, frames)
  expect(new Set(masks.values()).size).toBe(1)
})

test('what is not to be seen may be drawn so, too, on the frames that it has', async () => {
  await plantPlate(join(folder, 'quay'), { frames: 6 })
  const plate = await openPlate(join(folder, 'quay'))
  for (const spec of [at, join(at, 'region.####.svg')]) {
    const avoided = await loadAvoided(spec, plate)
    expect([...avoided.keys()]).toEqual(frames)
    const [still] = (await loadMasks(fileOf(1003), size, [1003])).values()
    expect(avoided.get(1003)!.rect).toEqual(still!.rect)
    expect(avoided.get(1003)!.bits).toEqual(Uint8Array.from(still!.data, (v) => (v > 0 ? 1 : 0)))
  }
})

test('frames that none is drawn for are named, and so are two sequences in one folder', async () => {
  await expectRefusal(() => loadMasks(at, size, [1003, 1004]), {
    code: 'MASK_FRAME_MISSING',
    exitCode: 2,
    says: ['no mask for frame 1004 (it has 1001-1003)'],
  })
  const two = join(folder, 'two')
  mkdirSync(two)
  for (const name of ['a.1001.svg', 'b.1001.svg'])
    writeFileSync(join(two, name), '<svg xmlns="http://www.w3.org/2000/svg"/>')
  await expectRefusal(() => loadMasks(two, size, [1001]), {
    code: 'MASK_AMBIGUOUS',
    exitCode: 2,
    says: [two, 'a.####.svg, b.####.svg', 'by its pattern'],
  })
  expect((await loadMasks(join(at, 'region.####.svg'), size, [1001])).size).toBe(1)
  await expectRefusal(() => loadMasks(join(at, 'other.####.svg'), size, [1001]), {
    code: 'MASK_NOT_FOUND',
    exitCode: 2,
    says: ['other'],
  })
})
