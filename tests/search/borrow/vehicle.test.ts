import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, test } from 'vitest'
import { LightingPass } from '../../../src/repair/lighting/lighting-pass.js'
import { openRepair } from '../../../src/repair/repair.js'
import { findBorrow } from '../../../src/search/borrow/borrow.js'
import { plantVehicle, type Vehicle } from '../../vehicle.js'

// Truth is planted: what the vehicle covers on every frame, and what its own shadow does round it.

const folder = mkdtempSync(join(tmpdir(), 'offcut-vehicle-'))
afterAll(() => rmSync(folder, { recursive: true }))

const BOX = { x: 56, y: 40, w: 44, h: 36 }
const drives = (speed: number, y: number) => (i: number) =>
  i > 12 && i < 40 ? { x: 170 - speed * (i - 13), y } : null
const lorry = (stops: number, blur: number): Vehicle => ({
  stops,
  shading: 0.15,
  at: drives(10, 30),
  w: 80,
  h: 60,
  blur,
  shadow: -0.4,
  reach: 8,
})

describe('a lorry whose bodywork is as smooth as a shadow drives over the region', {
  timeout: 60_000,
}, () => {
  describe('on a street whose texture is hardly more than grain', () => {
    test.each([
      ['a little darker than the street', -0.25, 1],
      ['a little darker, and smeared by its speed', -0.25, 8],
      ['as dark as a shadow', -0.6, 1],
      ['as dark as a shadow, and smeared', -0.6, 8],
      ['as dark as a deep shadow', -1.2, 1],
      ['as bright as a gleam', 0.4, 8],
    ])('%s: nothing of it holds, and the frame that shows it is named', async (title, stops, blur) => {
      const plate = await plantVehicle(join(folder, title), { vehicle: lorry(stops, blur) })
      const r = await findBorrow({ target: plate.folder, frames: '1001-1011', box: BOX })
      const objects = r.candidates.filter((c) => c.moment!.what === 'object')
      expect(objects.length).toBeGreaterThan(0)
      for (const c of r.candidates) expect([c.id, c.verdict]).toEqual([c.id, 'will not hold'])
      for (const { why, moment } of objects) {
        expect(why).toContain(`seen best on frame ${moment!.peak}`)
        const at = drives(10, 30)(moment!.peak - 1001)!
        // There it covers the region's middle.
        expect(at.x).toBeLessThan(78)
        expect(at.x + 80).toBeGreaterThan(78)
      }
    })
  })

  test.each([
    ['a shadow’s depth', -0.6, 1],
    ['a deep shadow’s, smeared', -1.2, 8],
  ])(
    'on a street without texture of %s: nothing of it holds up, and it is said that nothing can tell',
    async (title, stops, blur) => {
      const plate = await plantVehicle(join(folder, title), { vehicle: lorry(stops, blur), texture: 0.03 })
      const r = await findBorrow({ target: plate.folder, frames: '1001-1011', box: BOX })
      expect(r.candidates.length).toBeGreaterThan(0)
      for (const { verdict, why, moment } of r.candidates) {
        expect(verdict).toBe('will not hold')
        if (moment!.what === 'light') expect(why).toContain('no texture to tell a shadow from a thing by')
      }
    },
  )
})

describe('a van crosses the edge of the region while its shadow lies on it', { timeout: 60_000 }, () => {
  // It covers a fifth of the region; its shadow reaches far over the rest.
  const van: Vehicle = { ...lorry(-1.6, 4), at: drives(8, 0), w: 60, h: 48, shadow: -0.8, reach: 12 }

  test('the shadow is lifted, and the bodywork left out of it', async () => {
    const plate = await plantVehicle(join(folder, 'van'), { vehicle: van, texture: 0.3 })
    const r = await findBorrow({ target: plate.folder, frames: '1001-1011', box: BOX })
    const [top] = r.candidates
    expect(top.moment).toMatchObject({ what: 'light', sign: 'darker' })
    expect(top.verdict).not.toBe('holds up')
    const job = await openRepair(r)
    const pass = new LightingPass(job, top)
    let [beside, n, under, k] = [0, 0, 0, 0]
    for (const match of top.frames) {
      if (match.donor < top.moment!.start || match.donor > top.moment!.end) continue
      const { ratio, rect, mask } = await pass.lift(match, { featherPx: 0, fade: { in: 0, out: 0 } })
      for (let p = 0; p < mask.length; p++) {
        if (mask[p] === 0) continue
        const [x, y] = [rect.x + (p % rect.w), rect.y + Math.floor(p / rect.w)]
        const stops = Math.log2(ratio.data[3 * p + 1])
        const truth = Math.log2(plate.ratio(x, y, match.donor))
        if (plate.covered(x, y, match.donor) > 0.5) {
          under = Math.min(under, stops - truth)
          k++
        } else if (plate.covered(x, y, match.donor) === 0) {
          beside += (stops - truth) ** 2
          n++
        }
      }
    }
    job.close()
    expect(Math.min(k, n)).toBeGreaterThan(1000)
    expect(Math.sqrt(beside / n)).toBeLessThan(0.1)
    // The bodywork is 0.8 stops darker than the shadow. Nothing of that is lifted: what is guessed from round about is
    // rather too light.
    expect(under).toBeGreaterThan(-0.05)
  })
})
