// The reason of a candidate says what will be seen, where and on which frame. Planted truth.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, test } from 'vitest'
import { findDonors } from '../../../src/search/hide/find.js'
import type { Candidate } from '../../../src/search/result.js'
import { type PlateOptions, plantPlate } from '../../synthetic.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-shows-'))
afterAll(() => rmSync(folder, { recursive: true }))

const BOX = { x: 66, y: 30, w: 24, h: 56 }
/** Somebody stands in the region on 1011 to 1014, which are the target. */
const stands = (i: number) => (i >= 10 && i <= 13 ? [{ x: 70, y: 35, w: 16, h: 46, light: 0.04 }] : [])
let n = 0

async function search(options: PlateOptions, tries?: readonly string[]): Promise<Candidate[]> {
  const planted = { frames: 30, noise: 0.005, occluders: stands, ...options }
  const plate = await plantPlate(join(folder, `case${n++}`), planted)
  const asked = { target: plate.folder, frames: '1011-1014', box: BOX, reach: 4, surround: 20, keep: 4 }
  return (await findDonors({ ...asked, tries })).candidates
}

test.each<['left' | 'lower', number]>([
  ['left', 0.09],
  ['lower', -0.08],
])(
  'light that steps along the %s edge on one frame by %f stops is told so',
  async (edge, step) => {
    const beside = (x: number, y: number) => (edge === 'left' ? x < BOX.x : y >= BOX.y + BOX.h)
    // The lower edge is short, so it must step on more of the range to count; 1013 steps most.
    const share = (i: number) => (i === 12 ? 1 : edge === 'lower' && i >= 10 && i <= 13 ? 0.8 : 0)
    const candidates = await search({ lit: (i, x, y) => (beside(x, y) ? step * share(i) : 0) })
    expect(candidates.length).toBeGreaterThan(1)
    for (const { why, frames, seam } of candidates) {
      expect(frames.find((f) => f.target === 1013)!.seam).toBe(Math.max(...frames.map((f) => f.seam!)))
      expect(seam).toBeGreaterThan(1.8)
      const said = new RegExp(
        `^a step in the light along the ${edge} edge.* on 1013, 0\\.0(\\d) stops (\\w+) inside`,
      )
      const [, hundredths, sign] = said.exec(why)!
      expect(sign).toBe(step > 0 ? 'darker' : 'brighter')
      // The light is matched all round, so that of the step only a part is left at the edge.
      expect(Number(hundredths)).toBeGreaterThanOrEqual(4)
      expect(Number(hundredths)).toBeLessThanOrEqual(9)
    }
  },
  60_000,
)

test.each([0.4, -0.4])(
  'so is a step that no seam is measured on, as a shadow is taken for somebody who passes: %f stops',
  async (step) => {
    const lit = (i: number, x: number) => (i === 12 && x < BOX.x ? step : 0)
    for (const { verdict, why, seam } of await search({ lit })) {
      expect(seam).toBeLessThan(1.8)
      expect(verdict).toBe('needs work')
      const [, stops] = /a step in the light along the left edge on 1013, (0\.\d\d) stops (\w+) inside/.exec(
        why,
      )!
      expect(Math.abs(Number(stops) - Math.abs(step))).toBeLessThanOrEqual(0.02)
      expect(why).toContain(`stops ${step > 0 ? 'darker' : 'brighter'} inside`)
    }
  },
  60_000,
)

test('a donor in the same light has no step, and somebody who passes beside the region is none', async () => {
  // The shadow falls in 1013 and in 1021 alike; a walker stands left of the region in 1012.
  const lit = (i: number, x: number) => ((i === 12 || i === 20) && x < BOX.x ? -0.4 : 0)
  const walker = (i: number) => (i === 11 ? [{ x: 46, y: 40, w: 14, h: 34, light: 0.5 }] : [])
  const candidates = await search({ lit, occluders: (i) => [...stands(i), ...walker(i)] }, [
    'run+8',
    'hold-1005',
  ])
  const why = (id: string) => candidates.find((c) => c.id === id)!.why
  expect(why('hold-1005')).toContain('a step in the light along the left edge on 1013')
  expect(why('run+8')).not.toContain('a step in the light')
}, 60_000)

test('leaves that are never the same twice differ in detail where they are', async () => {
  const leaf = (i: number, x: number, y: number) =>
    0.3 * Math.sin(2.1 * x + 5 * i) * Math.sin(1.9 * y + 7 * i)
  const candidates = await search({ lit: (i, x, y) => (x > 82 && y > 74 ? leaf(i, x, y) : 0) })
  expect(candidates.length).toBeGreaterThan(1)
  for (const { why } of candidates) expect(why).toMatch(/(^|; )detail differs at the lower right/)
}, 60_000)

test('somebody in the donor is told with the part of the region where they stand', async () => {
  const cart = { x: 60, y: 72, w: 14, h: 20, light: 0.6 }
  const passer = (i: number) => [...stands(i), ...(i === 20 ? [cart] : [])]
  const candidates = await search({ occluders: passer }, ['hold-1021', 'run+8'])
  const why = (id: string) => candidates.find((c) => c.id === id)!.why
  expect(why('hold-1021')).toMatch(/^\d+ % of the region, at the lower left, is not empty in the donor(;|$)/)
  // 1021 lies 8 frames after 1013 and nobody is on its neighbours.
  expect(why('run+8')).toMatch(
    /^\d+ % of the region, at the lower left, is not empty in the donor on 1013(;|$)/,
  )
}, 60_000)
