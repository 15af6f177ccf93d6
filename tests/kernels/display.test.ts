// Light looked up for a screen. Truth: the straight twin in doubles.
import { expect, test } from 'vitest'
import { displayCodes, STEPS } from '../../src/kernels/display.js'
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
