// What the artist marks as not to be seen is neither followed, compared nor lent.
import { mkdirSync, mkdtempSync, utimesSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { beforeAll, describe, expect, test } from 'vitest'
import { HALF_VALUES } from '../../src/raster/half.js'
import { findDonors } from '../../src/search/hide/find.js'
import { openShot } from '../../src/shot/open-shot.js'
import { keptHalves, readOneHalf } from '../../src/track/read-frames.js'
import { expectRefusal } from '../refusal.js'
import { boxOf, type Planted, plantMask, plantPlate } from '../synthetic.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-avoid-'))
const BOX = { x: 60, y: 40, w: 24, h: 20 }
let plate: Planted

beforeAll(async () => {
  plate = await plantPlate(join(folder, 'plate'), {
    frames: 24,
    occluders: (i) => (i < 3 ? [{ ...BOX, light: 0.03 }] : []),
  })
  mkdirSync(join(folder, 'actors'))
  // Somebody is marked in the region from 1013 on, and beside it, in the surround, before.
  for (const frame of plate.frames) {
    const marked = frame >= 1013 ? boxOf(58, 38, 12, 10) : boxOf(90, 30, 10, 10)
    await plantMask(join(folder, 'actors', `actors.${frame}.png`), marked)
  }
}, 60_000)

const request = () => ({ target: plate.folder, frames: '1001-1003', box: BOX, avoid: join(folder, 'actors') })

describe('what is marked as not to be seen', () => {
  test('is read as no sample, and all beside it as ever', async () => {
    const { plates } = await openShot(request())
    const rect = { x: 56, y: 36, w: 20, h: 20 }
    const halves = await readOneHalf(plates[0], 1015, rect)
    for (let y = 0, i = 0; y < rect.h; y++)
      for (let x = 0; x < rect.w; x++, i++) {
        const [px, py] = [rect.x + x, rect.y + y]
        const marked = px >= 58 && px < 70 && py >= 38 && py < 48
        expect(Number.isNaN(HALF_VALUES[halves[3 * i]])).toBe(marked)
      }
  })

  test('is kept in the cache as it was shot: a search that avoids nothing sees all of it', async () => {
    // A rectangle of its own, so that nothing of it is in the cache yet.
    const rect = { x: 50, y: 30, w: 33, h: 27 }
    // A file that was written just now is not cached.
    for (const frame of plate.frames) utimesSync(plate.pathOf(frame), 1e9, 1e9)
    const avoiding = await openShot(request())
    for await (const _ of keptHalves(avoiding.plates[0], plate.frames, rect));
    const { avoid: _, ...all } = request()
    const { plates } = await openShot(all)
    for await (const { picture } of keptHalves(plates[0], plate.frames, rect))
      for (const half of picture!) expect(Number.isNaN(HALF_VALUES[half])).toBe(false)
  })

  test('is not lent: frames on which it covers part of the region hold nothing up', async () => {
    const result = await findDonors(request())
    const holding = result.candidates.filter((c) => c.verdict === 'holds up')
    expect(holding.length).toBeGreaterThan(0)
    for (const { frames } of holding)
      for (const { donor, stack } of frames)
        for (const frame of stack?.map((s) => s.frame) ?? [donor]) expect(frame).toBeLessThan(1013)
    expect(result.region.avoid).toBe(join(folder, 'actors'))
  }, 60_000)

  test('may be on some frames only; a sequence that has none of the plate’s is refused with both lists', async () => {
    mkdirSync(join(folder, 'others'))
    for (const frame of [1, 2])
      await plantMask(join(folder, 'others', `actors.${frame}.png`), boxOf(0, 0, 9, 9))
    await expectRefusal(() => openShot({ ...request(), avoid: join(folder, 'others') }), {
      code: 'MASK_FRAME_MISSING',
      exitCode: 2,
      says: ['1001-1024', '1-2'],
    })
  })
})
