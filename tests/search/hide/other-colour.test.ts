// Planted: passers-by in coats as bright as the wall (BT.709), of another colour, cross the region on most frames.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { findDonors } from '../../../src/search/hide/find.js'
import type { Candidate, Result } from '../../../src/search/result.js'
import { FIRST, type Occluder, plantPlate } from '../../synthetic.js'
import { evenWall, PINK } from './pink-coat.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-colour-'))
afterAll(() => rmSync(root, { recursive: true }))

const BOX = { x: 60, y: 40, w: 40, h: 36 }
const [IN, OUT] = [14, 19]
const isTarget = (i: number) => i >= IN && i <= OUT
/** Five frames on, three off, each time a little elsewhere; nobody else comes near while the porter is there. */
const inCoat = (i: number) => !isTarget(i) && i % 8 < 3

function occluders(i: number, tint: Occluder['tint']): Occluder[] {
  if (isTarget(i)) return [{ x: BOX.x + 4, y: BOX.y + 4, w: 30, h: 28, light: 0.02 }]
  return inCoat(i) ? [{ x: BOX.x + 2 + (i % 17), y: BOX.y + 6, w: 16, h: 24, light: 0.2, tint }] : []
}

const lent = (c: Candidate) =>
  c.frames.flatMap((f) => (f.pieces ?? f.stack ?? [{ frame: f.donor }]).map((s) => s.frame - FIRST))

async function search(name: string, tint: Occluder['tint']): Promise<Result> {
  const { folder } = await plantPlate(join(root, name), {
    frames: 48,
    wall: evenWall,
    occluders: (i) => occluders(i, tint),
  })
  const frames = Array.from({ length: OUT - IN + 1 }, (_, i) => FIRST + IN + i)
  return findDonors({
    target: folder,
    box: BOX,
    frames,
    reach: 4,
    // Whoever lends is measured: none of the coats may hold up by any name.
    tries: ['hold-1025', 'hold-1033', 'run+24'],
  })
}

describe('coats that luminance does not tell from the wall', () => {
  let result: Result
  beforeAll(async () => {
    result = await search('pink', PINK)
  }, 60_000)

  test('nothing that lends one holds up, and the reason names the colour', () => {
    const coated = result.candidates.filter((c) => c.map === undefined && lent(c).some(inCoat))
    expect(coated.length).toBeGreaterThan(2)
    for (const c of coated) {
      expect(c.verdict, c.id).not.toBe('holds up')
      expect(c.why).toMatch(/has another colour on \d+ than when it is empty/)
    }
  })

  test('the first candidate lends none, and holds up', () => {
    const [first] = result.candidates
    expect(lent(first).some(inCoat)).toBe(false)
    expect(first.verdict).toBe('holds up')
  })

  test('rows are in the order of their verdicts', () => {
    const order = ['holds up', 'needs work', 'will not hold']
    const places = result.candidates.map((c) => order.indexOf(c.verdict))
    expect(places).toEqual([...places].sort((a, b) => a - b))
  })
})

test('who wears the colour of the wall itself changes nothing: no reason names a colour', async () => {
  const { candidates } = await search('plain', undefined)
  for (const { why } of candidates) expect(why).not.toMatch(/colour/)
}, 60_000)
