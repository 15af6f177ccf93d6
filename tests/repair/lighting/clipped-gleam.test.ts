// A gleam that clips: by hand, of a wall at 0.5 that white at 1 is one stop above.
import { describe, expect, test } from 'vitest'
import { Workspace } from '../../../src/kernels/workspace.js'
import { frame } from '../../../src/raster/frame.js'
import { stopsOf } from '../../../src/repair/lighting/factors.js'
import {
  type ReferenceState,
  referenceState,
  unlitGrain,
} from '../../../src/repair/lighting/reference-state.js'
import { normal } from '../../synthetic.js'

const workspace = new Workspace()
const [WIDTH, HEIGHT] = [64, 48]
const WALL = [0.5, 0.4, 0.2]
const MIDDLE = 24 * WIDTH + 32

/** A frame of the wall, channel by channel, in a light of `stops`, clipped at 1, with a grain of one per cent. */
function shot(number: number, stops: (i: number) => number) {
  const grain = normal(number)
  const picture = frame(HEIGHT, WIDTH, 3)
  const validity = new Float32Array(WIDTH * HEIGHT)
  for (let i = 0, j = 0; i < validity.length; i++) {
    validity[i] = 1
    for (let c = 0; c < 3; c++, j++) {
      picture.data[j] = Math.min(1, WALL[c] * 2 ** stops(i) * (1 + 0.01 * grain()))
      if (picture.data[j] === 1) validity[i] = 0
    }
  }
  return { frame: number, picture, validity, clipLevel: 1 }
}

const disc = (stops: number, radius: number) => (i: number) =>
  Math.hypot((i % WIDTH) - 32, Math.floor(i / WIDTH) - 24) < radius ? stops : 0

function lifted(light: (i: number) => number, depthStops: number): Float32Array[] {
  const unlit = Array.from({ length: 8 }, (_, k) => shot(k < 4 ? 1001 + k : 1006 + k, () => 0))
  const reference: ReferenceState = referenceState(workspace, unlit, 1005, WIDTH)
  const grain = unlitGrain(workspace, unlit, reference, WIDTH)
  const moment = { sign: 'brighter', depthStops } as const
  const job = { reference, occluders: undefined, grain, moment }
  return stopsOf(workspace, shot(1005, light), job, 1005, [1, 1, 1], WIDTH)
}

describe('a gleam of 1.5 stops that clips red and green and not blue', () => {
  const [red, green, blue] = lifted(disc(1.5, 12), 1.4)

  test('brightens a clipped channel by what white shows of it at least: 1 stop of red, 1.32 of green', () => {
    expect(red[MIDDLE]).toBeGreaterThan(0.98)
    expect(green[MIDDLE]).toBeGreaterThan(Math.log2(1 / 0.4) - 0.02)
  })

  test('brightens the channel that is not clipped by what it shows', () => {
    expect(Math.abs(blue[MIDDLE] - 1.5)).toBeLessThan(0.06)
  })

  test('leaves the wall round about as it is', () => {
    for (const plane of [red, green, blue]) expect(Math.abs(plane[4 * WIDTH + 4])).toBeLessThan(0.03)
  })
})

test('what clips by more than the moment has is somebody in white, who is not lifted', () => {
  for (const plane of lifted(disc(1.5, 6), 0.5)) expect(Math.abs(plane[MIDDLE])).toBeLessThan(0.1)
})
