import { describe, expect, test } from 'vitest'
import { blur, logs, powers } from '../../../src/kernels/ratio.js'
import { Workspace } from '../../../src/kernels/workspace.js'
import { logRatios, withoutGrain } from '../../../src/repair/lighting/bands.js'
import { ratioAt } from '../../../src/repair/lighting/estimate.js'
import { normal } from '../../synthetic.js'
import * as straight from './lighting.reference.js'

const workspace = new Workspace()

// The compiled loops against the same formulas in double precision, one pixel after the other.

const SIZES = [
  [1, 1],
  [3, 2],
  [5, 17],
  [16, 4],
  [33, 21],
] as const

function picture(length: number, seed: number, level = 0.2): Float32Array {
  const grain = normal(seed)
  return Float32Array.from({ length }, () => Math.max(0, level * (1 + 0.3 * grain())))
}

function expectAlike(found: Readonly<Float32Array>, wanted: readonly number[], within: number): void {
  expect(found.length).toBe(wanted.length)
  for (let i = 0; i < found.length; i++) expect(Math.abs(found[i] - wanted[i])).toBeLessThan(within)
}

describe.each(SIZES)('on %i x %i pixels', (width, height) => {
  const length = width * height
  const donor = picture(length, 1)
  const reference = picture(length, 2, 0.3)
  const validity = Float32Array.from({ length }, (_, i) => (i % 7 === 3 ? 0 : i % 5 === 1 ? 0.5 : 1))
  const noise = new Float32Array(length).fill(1e-4)

  test.each([1, 2, 4, 8])('a blur of radius %i is three means', (radius) => {
    const found = donor.slice()
    blur(workspace, found, width, radius)
    expectAlike(found, straight.blur([...donor], width, radius), 1e-7)
  })

  test.each([1, 8])('the ratio in windows of radius %i', (radius) => {
    const found = ratioAt(workspace, { donor, reference, validity, noise }, width, radius)
    const wanted = straight.ratioAt([...donor], [...reference], [...validity], [...noise], width, radius)
    expectAlike(found, wanted, 2e-6)
  })

  test('bands put together again without their grain', () => {
    const channels = [donor, picture(length, 3), picture(length, 4)]
    const ratios = logRatios(workspace, channels, [reference, reference, reference], validity, noise, width)
    const grain = ratios.map((planes) => planes.slice(1).map((_, band) => picture(length, band, 0.002)))
    const found = withoutGrain(workspace, ratios, grain, width)
    const wanted = straight.withoutGrain(ratios, grain, width)
    for (const [c, plane] of found.entries()) expectAlike(plane, wanted[c], 3e-6)
  })
})

test('what is bright leaves nothing in what is dark beside it', () => {
  const width = 40
  const data = Float32Array.from({ length: width * 40 }, (_, i) =>
    i % width < 4 && i < 4 * width ? 1e6 : 1e-6,
  )
  blur(workspace, data, width, 2)
  for (let i = 0; i < data.length; i++)
    if (i % width >= 10 || i >= 10 * width) expect(data[i] / 1e-6).toBeCloseTo(1, 3)
})

test('logarithms and powers are right to float precision, and undo each other', () => {
  const values = Float32Array.from({ length: 4000 }, (_, i) => 2 ** ((i - 2000) / 60))
  const here = values.slice()
  logs(workspace, here)
  for (const [i, v] of here.entries()) expect(Math.abs(v - (i - 2000) / 60)).toBeLessThan(3e-6)
  expect(here[2000]).toBe(0)
  powers(workspace, here)
  for (const [i, v] of here.entries()) expect(Math.abs(v / values[i] - 1)).toBeLessThan(3e-6)
  expect(here[2000]).toBe(1)
})
