// Planted: frames that differ by noise of a known variance.
import { expect, test } from 'vitest'
import { Workspace } from '../../../src/kernels/workspace.js'
import type { Frame } from '../../../src/raster/frame.js'
import { awayInCells, changeOver } from '../../../src/repair/grain/change-over.js'
import { USUAL_POWER } from '../../../src/repair/grain/model.js'
import { grainy, H, W } from './grainy.js'

const workspace = new Workspace()
const everywhere = new Float32Array(W * H).fill(1)
const LIGHT = 0.3
const even = () => LIGHT
const [one, other] = grainy({ frames: 2, light: even })
// Grain's variance is 0.01 squared times the light.
const PLANTED = (0.01 ** 2 * LIGHT) / LIGHT ** (2 * USUAL_POWER)

const times = ({ picture }: { picture: Frame }, gain: number): Frame =>
  Object.assign(Object.create(picture), { data: picture.data.map((v) => gain * v) })

test('what two frames differ by is a frame’s noise, and light that changes is none', () => {
  expect(changeOver(workspace, one.picture, other.picture, everywhere, false)! / PLANTED).toBeCloseTo(1, 1)
  const brighter = changeOver(workspace, one.picture, times(other, 1.2), everywhere, false)!
  // Half of 1 and 1.2: the light that it is brought to the usual from.
  const unchanged = changeOver(workspace, one.picture, other.picture, everywhere, false)!
  expect((brighter / unchanged) * 1.1 ** (2 * USUAL_POWER)).toBeCloseTo(1, 2)
})

test('who passes in some cells says nothing where many surfaces are seen, and a cell that does not count never does', () => {
  const shown = times(other, 1)
  for (let y = 0; y < 32; y++)
    for (let x = 0; x < 32; x++) shown.data[3 * (y * W + x) + 1] *= x % 3 === 0 ? 0.5 : 1
  expect(changeOver(workspace, one.picture, shown, everywhere, true)! / PLANTED).toBeCloseTo(1, 1)
  expect(changeOver(workspace, one.picture, shown, everywhere, false)! / PLANTED).toBeGreaterThan(5)
  const beside = everywhere.map((_, i) => (i % W >= 32 || i >= 32 * W ? 1 : 0))
  expect(changeOver(workspace, one.picture, shown, beside, false)! / PLANTED).toBeCloseTo(1, 1)
  expect(changeOver(workspace, one.picture, shown, new Float32Array(W * H), false)).toBeNull()
})

test('what a picture differs by is told cell by cell, and a hole is no picture', () => {
  const shown = times(one, 1)
  for (let y = 8; y < 16; y++) for (let x = 16; x < 24; x++) shown.data[3 * (y * W + x) + 1] += 0.1
  const cells = awayInCells(workspace, shown.data, one.picture.data, everywhere, W)
  expect(cells).toHaveLength((W / 8) * (H / 8))
  const at = W / 8 + 2
  // The light is the mean of noisy samples.
  expect(cells[at] / (0.1 ** 2 / LIGHT ** (2 * USUAL_POWER))).toBeCloseTo(1, 2)
  expect(cells.filter((_, k) => k !== at).every((v) => v === 0)).toBe(true)
  shown.data[1] = Number.NaN
  expect(awayInCells(workspace, shown.data, one.picture.data, everywhere, W)[0]).toBe(
    Number.POSITIVE_INFINITY,
  )
})
