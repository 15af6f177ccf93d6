// Planted: on no frame is the region empty, as porters in the dark stand in one third of it after the other, and near to the targets
// somebody in a coat as bright as the wall (BT.709), of another colour, stands in the next one.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { findDonors } from '../../../src/search/hide/find.js'
import { unpackPieces } from '../../../src/search/piece-map.js'
import type { Candidate } from '../../../src/search/result.js'
import { FIRST, type Occluder, plantPlate } from '../../synthetic.js'
import { evenWall, PINK } from './pink-coat.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-crowd-colour-'))
afterAll(() => rmSync(root, { recursive: true }))

const BOX = { x: 50, y: 38, w: 60, h: 40 }
const [IN, OUT] = [20, 24]
const isTarget = (i: number) => i >= IN && i <= OUT
const THIRD = BOX.w / 3
/** So many frames before and after the targets somebody in a coat is there. */
const COATS = 15
/** No others may lend: each is empty in one third. */
const LENDING = `${FIRST + IN - COATS}-${FIRST + IN + COATS}`

function coatOn(i: number): Occluder | null {
  if (isTarget(i) || Math.abs(i - IN) > COATS) return null
  return { x: BOX.x + ((i + 1) % 3) * THIRD + 3, y: BOX.y + 6, w: 14, h: 26, light: 0.2, tint: PINK }
}

function occluders(i: number): Occluder[] {
  if (isTarget(i)) return [{ ...BOX, light: 0.02 }]
  const porter = { x: BOX.x + (i % 3) * THIRD, y: BOX.y, w: THIRD, h: BOX.h, light: 0.02 }
  return [porter, coatOn(i) ?? []].flat()
}

/** Of a mosaic's pixels those that it takes from a frame on which somebody stands there. */
function lentFrom({ map, frames: [{ pieces }] }: Candidate, who: (i: number) => readonly Occluder[]): number {
  const labels = unpackPieces(map!)
  const [x0, y0, w] = map!.box
  let n = 0
  for (const [k, label] of labels.entries()) {
    const [x, y] = [x0 + (k % w), y0 + Math.floor(k / w)]
    if (x < BOX.x || y < BOX.y || x >= BOX.x + BOX.w || y >= BOX.y + BOX.h) continue
    const hides = (o: Occluder) => x >= o.x && y >= o.y && x < o.x + o.w && y < o.y + o.h
    if (who(pieces![label].frame - FIRST).some(hides)) n++
  }
  return n
}

describe('a crowd with coats that luminance does not tell from the wall', () => {
  let first: Candidate
  beforeAll(async () => {
    const { folder } = await plantPlate(join(root, 'crowd'), { frames: 60, wall: evenWall, occluders })
    const frames = Array.from({ length: OUT - IN + 1 }, (_, i) => FIRST + IN + i)
    first = (await findDonors({ target: folder, box: BOX, frames, reach: 4, donorFrames: LENDING }))
      .candidates[0]
  }, 60_000)

  test('comes to a mosaic first, as no frame is empty', () => {
    expect(first.kind).toBe('mosaic')
    expect(lentFrom(first, occluders)).toBeLessThan(0.01 * BOX.w * BOX.h)
  })

  test('which lends none of the coats', () => {
    expect(lentFrom(first, (i) => [coatOn(i) ?? []].flat())).toBe(0)
  })
})
