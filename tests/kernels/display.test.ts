// Light looked up for a screen. Truth: the straight twin in doubles.
import { expect, test } from 'vitest'
import { differenceCodes, displayCodes, STEPS } from '../../src/kernels/display.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { randomFrom } from '../random.js'

const workspace = new Workspace()

function reference(light: Float32Array, scale: number, table: Uint8Array): number[] {
  return Array.from(light, (v) => {
    const step = v * scale + 0.5
    if (Number.isNaN(step) || step < 0) return table[0]!
    return table[Math.min(STEPS, Math.floor(step))]!
  })
}

test.each([
  [1, 1],
  [7, 2 ** -1.7],
  [4096, 1],
  [300_001, 2 ** (1 / 3)],
])('%s samples, scaled by %f, have the codes of the steps next to them', (length, gain) => {
  const random = randomFrom(`display ${length}`)
  const table = Uint8Array.from({ length: STEPS + 1 }, () => Math.floor(256 * random()))
  const light = Float32Array.from({ length }, () => 1.4 * random() - 0.2)
  const before = light.slice()
  // Half way between two steps, and what no step is.
  for (const [i, v] of [100.5 / STEPS, 0, -0, Infinity, -Infinity, Number.NaN, 3e9, 1].entries())
    if (length > 100) light[11 * i] = before[11 * i] = v
  const out = new Uint8Array(length)
  displayCodes(workspace, light, STEPS * gain, table, out)
  expect(light).toEqual(before)
  const truth = reference(light, STEPS * gain, table)
  expect(out.findIndex((code, i) => code !== truth[i])).toBe(-1)
})

test.each([1, 7, 8, 9, 4096, 5003])('what %i codes differ by is held between black and white', (length) => {
  const random = randomFrom(`difference ${length}`)
  const codes = () => Uint8Array.from({ length }, () => Math.floor(256 * random()))
  for (const [zero, gain] of [
    [128, 8],
    [0, 1],
    [255, -64],
  ] as const) {
    const [one, two, out] = [codes(), codes(), new Uint8Array(length)]
    one.set([0, 255, 10].slice(0, length))
    two.set([255, 0, 10].slice(0, length))
    differenceCodes(workspace, one, two, { zero, gain }, out)
    expect(out).toEqual(one.map((v, i) => Math.min(255, Math.max(0, zero + gain * (v - two[i]!)))))
  }
})
