import { expect, test } from 'vitest'
import { floatsToHalves } from '../../src/raster/half.js'
import { Band } from '../../src/search/band.js'
import { normal } from '../synthetic.js'

const PLATE = { width: 160, height: 200 }
const FRAMES = [1001, 1002, 1003, 1004, 1005]

function lightsOf(order: readonly number[]) {
  const band = new Band(PLATE, { x: 40, y: 80, w: 40, h: 40 }, [1])
  const { w, h } = band.rect
  for (const frame of order) {
    const grain = normal(frame)
    // Each frame a tenth of a stop brighter than the one before it.
    const light = 0.2 * 2 ** (0.1 * (frame - 1001))
    const linear = Float32Array.from({ length: 3 * w * h }, () => light * (1 + 0.02 * grain()))
    const halves = new Uint16Array(linear.length)
    floatsToHalves(linear, halves)
    band.see({ plate: 0, frame }, halves)
  }
  return band.lights()!
}

test('the light of a frame is the same in whatever order frames were read', () => {
  const inOrder = lightsOf(FRAMES)
  const asTheyCame = lightsOf([1004, 1001, 1005, 1003, 1002])
  for (const frame of FRAMES) expect(asTheyCame.get(`0:${frame}`)).toEqual(inOrder.get(`0:${frame}`))
  const step = inOrder.get('0:1002')!.stops - inOrder.get('0:1001')!.stops
  expect(step).toBeCloseTo(-0.1, 2)
})
