// A marker that is there on every frame, on a shutter whose slats repeat: other places of the same frames lend.
import { mkdtempSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { beforeAll, describe, expect, test } from 'vitest'
import { findDonors } from '../../src/search/hide/find.js'
import { requestOf } from '../../src/search/hide/search-again.js'
import type { Result } from '../../src/search/result.js'
import { roughWall } from '../rough-wall.js'
import { plantPlate } from '../synthetic.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-anywhere-'))
/** The wall repeats after so many pixels, across. */
const PERIOD = 75.5
const MARKER = { x: 110, y: 60, w: 14, h: 12 }
let result: Result

beforeAll(async () => {
  const plate = await plantPlate(join(folder, 'plate'), {
    width: 260,
    height: 140,
    frames: 10,
    // Both ends of a period fade into each other, so that the repeat has no edge.
    wall: (x, y) => {
      const u = ((x % PERIOD) + PERIOD) % PERIOD
      const share = u / PERIOD
      return 2 ** ((1 - share) * roughWall(u, y) + share * roughWall(u - PERIOD, y))
    },
    occluders: () => [{ ...MARKER, light: 0.01 }],
  })
  result = await findDonors({
    target: plate.folder,
    frames: '1003-1006',
    box: { x: MARKER.x - 2, y: MARKER.y - 2, w: MARKER.w + 4, h: MARKER.h + 4 },
    reach: 'anywhere',
  })
}, 60_000)

describe('searched anywhere in the frame', () => {
  test('both places that are alike are found, a period to either side', () => {
    const places = result.donors.flatMap(({ place }) => (place ? [place] : []))
    for (const across of [PERIOD, -PERIOD])
      expect(places.some(([dx, dy]) => Math.abs(dx - across) < 1.5 && Math.abs(dy) < 1.5)).toBe(true)
    expect(result.anywhere).toBe(true)
  })

  test('each is listed with its offset to a tenth of a pixel, and best of all', () => {
    const alike = result.candidates.filter(
      ({ frames: [{ dx, dy }] }) => Math.abs(Math.abs(dx) - PERIOD) < 0.1 && Math.abs(dy) < 0.1,
    )
    const sides = new Set(alike.map(({ frames: [{ dx }] }) => Math.sign(dx)))
    expect([...sides].sort()).toEqual([-1, 1])
    expect(alike).toContain(result.candidates[0])
    expect(result.candidates[0].clean).toBeGreaterThan(0.98)
  })

  test('both need a look and no more: whether a place may be shown twice is not for numbers to say', () => {
    for (const { verdict } of result.candidates) expect(verdict).not.toBe('holds up')
    const [first] = result.candidates
    expect(first.verdict).toBe('needs work')
    expect(first.why).toMatch(/another place of the frame, 75 px to the (left|right)/)
  })

  test('every candidate has a name of its own', () => {
    const ids = result.candidates.map(({ id }) => id)
    expect(new Set(ids).size).toBe(ids.length)
  })

  test('a search that is made again asks for the same', () => {
    expect(requestOf(result)).toMatchObject({ reach: 'anywhere', donors: [] })
  })
})
