// Where a lift ends with a step. Truth is planted: the light beyond the mask's edge is a formula.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { findBorrow } from '../../../src/search/borrow/borrow.js'
import type { Candidate } from '../../../src/search/result.js'
import { WIDTH } from '../../synthetic.js'
import { plantShade, type Shade } from '../shaded.js'

let folder: string
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'offcut-edge-step-'))
})
afterAll(() => rmSync(folder, { recursive: true }))

const BOX = { x: 50, y: 40, w: 60, h: 44 }
const [MIDDLE, CENTRE] = [BOX.x + BOX.w / 2, BOX.y + BOX.h / 2]
const PEAK = 23
const between = (v: number) => Math.min(1, Math.max(0, v))
/** It comes and goes in light. */
const there = (i: number) => between((6 - Math.abs(i - PEAK)) / 3)
const body =
  (stops: number, soft: number): Shade =>
  (x, y, i) =>
    stops * there(i) * between((14 - Math.hypot(x - MIDDLE, y - CENTRE)) / soft + 0.5)
/** As wide as 24 pixels, from the middle up to `end`. */
const tail =
  (stops: number, soft: number, end: number): Shade =>
  (x, y, i) =>
    y < CENTRE
      ? stops * there(i) * between((12 - Math.abs(x - MIDDLE)) / soft + 0.5) * between((y - end) / soft + 0.5)
      : 0
const deeper =
  (a: Shade, b: Shade): Shade =>
  (x, y, i) =>
    a(x, y, i) + b(x, y, i) < 0 ? Math.min(a(x, y, i), b(x, y, i)) : Math.max(a(x, y, i), b(x, y, i))

/** Plain but for the little that tells a shadow from a thing. */
const plain = (x: number, y: number) =>
  0.3 * (1 + 0.03 * Math.sin(x * 1.9) * Math.sin(y * 2.3) + 0.02 * Math.sin(x * 0.7 + y * 0.9))
/** The same below the box's upper edge, something brighter above it. */
const kerb = (x: number, y: number) => plain(x, y) * (y < BOX.y ? 2 : 1)

let count = 0
async function first(
  shade: Shade,
  {
    wall = plain,
    box = BOX,
    ...asked
  }: { wall?: typeof plain; box?: typeof BOX; offset?: { dx: number; dy: number } } = {},
): Promise<Candidate> {
  const plate = await plantShade(join(folder, `plate${count++}`), {
    frames: 44,
    shades: [shade],
    wall,
    noise: 0.006,
  })
  const r = await findBorrow({ target: plate.folder, frames: '1001-1013', box, ...asked })
  expect(r.candidates[0].moment).toMatchObject({ what: 'light', peak: 1001 + PEAK })
  return r.candidates[0]
}

describe('the lift of a shadow', { timeout: 60_000 }, () => {
  test.each([
    ['soft', 8],
    ['hard', 1.6],
  ])('that ends within the mask holds up, %s as it is', async (_, soft) => {
    const top = await first(body(-0.6, soft))
    expect(top).toMatchObject({ verdict: 'holds up', moment: { edgeStep: 0 } })
  })

  test.each([
    [-0.2, 8],
    [-0.2, 1.6],
    [-0.5, 8],
    [0.3, 1.6],
  ])(
    'that runs on across the upper edge by %d stops needs work, and says by how much and what to do',
    async (stops, soft) => {
      const top = await first(deeper(body(Math.sign(stops) * 0.6, soft), tail(stops, soft, BOX.y - 10)))
      expect(top.verdict).toBe('needs work')
      const [, told, px, more] =
        /across the mask's upper edge and is cut off there, by up to (\d\.\d+) stops over (\d+) px on target frame \d+: grow the mask by (\d+) px/.exec(
          top.why,
        )!
      expect(Math.abs(Number(told) / Math.abs(stops) - 1)).toBeLessThan(0.15)
      expect(top.moment!.edgeStep).toBeCloseTo(Number(told), 1)
      expect(Math.abs(Number(px) - 24)).toBeLessThanOrEqual(8)
      expect(Math.abs(Number(more) - 10)).toBeLessThanOrEqual(5)
      const { id } = top
      const grown = await findBorrow({
        target: join(folder, `plate${count - 1}`),
        frames: '1001-1013',
        box: BOX,
        grow: Number(more),
      })
      expect(grown.candidates[0]).toMatchObject({ id, verdict: 'holds up' })
    },
  )

  test('that runs on by less than an eye sees holds up', async () => {
    const top = await first(deeper(body(-0.6, 8), tail(-0.05, 8, BOX.y - 10)))
    expect(top).toMatchObject({ verdict: 'holds up', moment: { edgeStep: 0 } })
  })

  test('that runs on further than is looked at does not say how far', async () => {
    const top = await first(deeper(body(-0.6, 8), tail(-0.3, 8, -100)))
    expect(top.why).toContain('grow the mask until it holds all of the change, or feather the patch')
  })

  test('whose mask ends with what it falls on holds up, though it is strong there: it is no new line', async () => {
    const top = await first(deeper(body(-0.6, 8), tail(-0.4, 1.6, BOX.y)), { wall: kerb })
    expect(top).toMatchObject({ verdict: 'holds up', moment: { edgeStep: 0 } })
    const across = await first(deeper(body(-0.6, 8), tail(-0.4, 8, BOX.y - 10)), { wall: kerb })
    expect(across).toMatchObject({ verdict: 'holds up', moment: { edgeStep: 0 } })
  })

  test('that ends where the donor’s frame does needs work', async () => {
    // What is moved by 40 pixels to the left lies 12 beyond the plate's right end.
    const box = { ...BOX, x: WIDTH - 52 - 36, w: 60 }
    const dark: Shade = (x, y, i) =>
      -0.5 * there(i) * between((x - (WIDTH - 40)) / 8) * between((14 - Math.abs(y - CENTRE)) / 8 + 0.5)
    const top = await first(dark, { box, offset: { dx: -40, dy: 0 } })
    expect(top.verdict).toBe('needs work')
    expect(top.why).toMatch(
      /the donor's frame ends before the mask's right edge and cuts the light off, by up to 0\.\d+ stops/,
    )
  })
})
