// Planted truth: a wall swept by a camera that moves in a direction that we chose, against the wall itself.
import { expect, test } from 'vitest'
import { type Frame, frame } from '../../../src/raster/frame.js'
import type { GrainModel } from '../../../src/repair/grain/model.js'
import {
  compareSharpness,
  tilePower,
  tilesAlike,
  tilesWithin,
} from '../../../src/repair/sharpness/compare.js'
import { blurredOneWay } from '../../../src/repair/sharpness/one-way.js'
import { grainOf, texturedWall } from '../../synthetic.js'

const [W, H] = [120, 100]
const LEVEL = 0.01
const wall = texturedWall(3, 5)
const all = new Float64Array(256).fill(1)
const model: GrainModel = {
  level: [LEVEL, LEVEL, LEVEL],
  power: [1, 1, 1],
  where: null,
  mix: Float64Array.of(1, 0, 0, 0, 1, 0, 0, 0, 1),
  whole: [all, all, all],
  fresh: [all, all, all],
  changes: null,
}

/** The mean of the wall over places, in grain. */
function shot(places: readonly (readonly [number, number])[], start: number): Frame {
  const grain = grainOf(start, 3 * W * H)
  const out = frame(H, W, 3)
  for (let k = 0; k < W * H; k++) {
    const light =
      places.reduce((sum, [dx, dy]) => sum + wall((k % W) + dx, Math.floor(k / W) + dy), 0) / places.length
    for (let c = 0; c < 3; c++) out.data[3 * k + c] = light * (1 + LEVEL * grain[3 * k + c])
  }
  return out
}

const way = (px: number, degrees: number) =>
  Array.from({ length: 7 }, (_, k): [number, number] => {
    const far = px * (k / 6 - 0.5)
    return [far * Math.cos((degrees * Math.PI) / 180), far * Math.sin((degrees * Math.PI) / 180)]
  })

function told(target: Frame, donor: Frame) {
  const tiles = tilesAlike(
    target,
    donor,
    tilesWithin(() => true, W, H),
  )!
  const kept = { target: all, donor: all }
  return blurredOneWay(
    compareSharpness(tilePower(target, tiles, model), tilePower(donor, tiles, model), model, kept)!,
  )
}

const still = shot([[0, 0]], 1)

test.each([0, 35, 90, 140])(
  'a way of 8 px at %d degrees is movement, of whichever of both was shot so',
  (degrees) => {
    const swept = shot(way(8, degrees), 2)
    expect(told(swept, still)).toBe('target')
    expect(told(still, swept)).toBe('donor')
  },
)

test('a lens out of focus, a way of a pixel and two frames that are alike are none', () => {
  const around = [0, 45, 90, 135].flatMap((degrees) => way(5, degrees))
  for (const other of [shot(around, 2), shot(way(1, 0), 2), shot([[0, 0]], 2)]) {
    expect(told(other, still)).toBeNull()
    expect(told(still, other)).toBeNull()
  }
})
