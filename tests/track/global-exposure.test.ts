import { expect, test } from 'vitest'
import { Workspace } from '../../src/kernels/workspace.js'
import { floatsToHalves } from '../../src/raster/half.js'
import { bandRect, exposureBlocks, globalExposures } from '../../src/track/global-exposure.js'
import { atOnce } from '../../src/turns.js'
import { normal } from '../synthetic.js'

const workspace = new Workspace()

const PLATE = { x: 0, y: 0, w: 160, h: 200 }
const FRAMES = [1001, 1002, 1003, 1004, 1005]

test('the light of a frame follows what its blocks agree on', () => {
  const rect = bandRect(PLATE, { x: 40, y: 80, w: 40, h: 40 })
  expect(rect).toEqual({ x: 0, y: 4, w: 160, h: 192 })
  const seen = FRAMES.map((frame) => {
    const grain = normal(frame)
    // Each frame a tenth of a stop brighter than the one before it.
    const light = 0.2 * 2 ** (0.1 * (frame - 1001))
    const linear = Float32Array.from({ length: 3 * rect.w * rect.h }, () => light * (1 + 0.02 * grain()))
    const halves = new Uint16Array(linear.length)
    floatsToHalves(linear, halves)
    return { plate: 0, frame, band: exposureBlocks(halves, rect, 1) }
  })
  const lights = atOnce(globalExposures(workspace, seen))!
  for (const frame of FRAMES) {
    const { stops, gain } = lights.get(`0:${frame}`)!
    expect(stops - lights.get('0:1001')!.stops).toBeCloseTo(-0.1 * (frame - 1001), 2)
    for (const g of gain) expect(Math.log2(g)).toBeCloseTo(stops, 2)
  }
})

test('a band that is clipped all over tells no light', () => {
  const rect = bandRect(PLATE, { x: 40, y: 80, w: 40, h: 40 })
  const linear = new Uint16Array(3 * rect.w * rect.h).fill(0x3c00)
  expect(
    atOnce(globalExposures(workspace, [{ plate: 0, frame: 1, band: exposureBlocks(linear, rect, 1) }])),
  ).toBeNull()
})
