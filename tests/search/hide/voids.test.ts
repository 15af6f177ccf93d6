// Planted truth: what is no picture (bars, the area outside a data window) has no say in anything.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, test } from 'vitest'
import { readRect } from '../../../src/footage/plate.js'
import { repairFrame } from '../../../src/repair/hide/hide-pass.js'
import { openRepair } from '../../../src/repair/repair.js'
import { findDonors } from '../../../src/search/hide/find.js'
import { surveyPlate } from '../../../src/search/survey.js'
import { HEIGHT, handheld, plantVoids, type VoidOptions, WIDTH } from '../../bars.js'
import { expectRefusal } from '../../refusal.js'
import { FIRST } from '../../synthetic.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-voids-'))
afterAll(() => rmSync(folder, { recursive: true }))

const BAR = 26
const full = () => ({ x: 0, y: 0, w: WIDTH, h: HEIGHT })
const letterbox = () => ({ x: 0, y: BAR, w: WIDTH, h: HEIGHT - 2 * BAR })
const pillarbox = () => ({ x: BAR, y: 0, w: WIDTH - 2 * BAR, h: HEIGHT })
/** A stabilised plate: its data window moves as the camera did. */
const stabilised = (i: number) => ({ ...letterbox(), y: BAR + (i % 5) })

const CASES: readonly { title: string; options: VoidOptions; box: readonly number[] }[] = [
  { title: 'no bars', options: { format: 'png', active: full }, box: [100, 34, 30, 26] },
  { title: 'a letterbox', options: { format: 'png', active: letterbox }, box: [100, 34, 30, 26] },
  {
    title: 'a grey letterbox',
    options: { format: 'png', active: letterbox, bar: 0.2 },
    box: [100, 34, 30, 26],
  },
  { title: 'a letterbox in JPEG', options: { format: 'jpg', active: letterbox }, box: [100, 34, 30, 26] },
  { title: 'a pillarbox', options: { format: 'png', active: pillarbox }, box: [34, 80, 26, 30] },
  { title: 'a data window', options: { format: 'exr', active: letterbox }, box: [100, 34, 30, 26] },
  {
    title: 'a data window that moves',
    options: { format: 'exr', active: stabilised },
    box: [100, 34, 30, 26],
  },
]

for (const { title, options, box } of CASES) {
  test(`a swaying plate with ${title} is followed to 0.05 px`, async () => {
    const plate = await plantVoids(join(folder, title.replaceAll(' ', '-')), options)
    const [x, y, w, h] = box
    const result = await findDonors({ target: plate, frames: '1005-1007', box: { x, y, w, h }, reach: 8 })
    expect(result.candidates.length).toBeGreaterThan(3)
    let worst = 0
    for (const { frames } of result.candidates)
      for (const { target, donor, dx, dy } of frames) {
        const [tx, ty] = handheld(target - FIRST)
        const [ox, oy] = handheld(donor - FIRST)
        worst = Math.max(worst, Math.abs(dx - (tx - ox)), Math.abs(dy - (ty - oy)))
      }
    expect(worst).toBeLessThan(0.05)
    const told = result.warnings.filter((note) => note.includes('round it are bars or no data'))
    expect(told).toHaveLength(title === 'no bars' ? 0 : 1)
  }, 30_000)
}

test('a donor lends nothing of its bar, and a region in the bar is left as it is', async () => {
  const plate = await plantVoids(join(folder, 'lends'), { format: 'png', active: letterbox })
  const box = { x: 100, y: BAR - 10, w: 30, h: 40 }
  const result = await findDonors({ target: plate, frames: '1005-1006', box, reach: 8 })
  expect(result.warnings.join('\n')).toContain('the mask reaches beyond the picture, 240 x 138 from 0, 26')
  const job = await openRepair(result)
  const hold = result.candidates.find((c) => c.kind === 'hold')!
  const made = await repairFrame(job, hold, hold.frames[0], { addGrain: false })
  const { rect, alpha, repaired } = made
  expect(rect.y).toBe(BAR)
  // The wall is nowhere darker than 0.03; the bar is black.
  const least = repaired.data.filter((_, j) => alpha[(j / 3) | 0] > 0).reduce((a, b) => Math.min(a, b))
  expect(least).toBeGreaterThan(0.02)
  await expectRefusal(
    () => findDonors({ target: plate, frames: '1005', box: { x: 100, y: 2, w: 30, h: 20 } }),
    { code: 'REGION_VOID', exitCode: 2, says: ['30 x 20 from 100, 2', '240 x 138 from 0, 26'] },
  )
}, 30_000)

test('a void survives the cache', async () => {
  const plate = await plantVoids(join(folder, 'cached'), { format: 'exr', active: stabilised })
  const search = () =>
    findDonors({ target: plate, frames: '1005-1006', box: { x: 100, y: 40, w: 30, h: 26 } })
  expect(await search()).toEqual(await search())
}, 30_000)

test('a survey names the picture, and looks at nothing else', async () => {
  const plate = await plantVoids(join(folder, 'surveyed'), { format: 'jpg', active: letterbox })
  const survey = await surveyPlate(plate)
  expect(survey.plate.active).toEqual(letterbox())
  expect(survey.rect.y).toBeGreaterThanOrEqual(BAR)
  const black = await readRect(survey.plate, 1001, { x: 0, y: BAR - 1, w: 1, h: 1 })
  expect([...black.data]).toEqual([Number.NaN, Number.NaN, Number.NaN])
})
