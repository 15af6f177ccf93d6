// Seams are measured where pieces meet, on steps that are drawn here.
import { describe, expect, test } from 'vitest'
import { randomFrom } from '../random.js'
import { type Picture, picture } from '../resample.js'
import { toDisplay } from './footage.js'
import { piecesOn, stepRatio, stepsAcross } from './seams.js'

const SIZE = 8

/** A speckled wall, and the same as a display would encode it. */
function walls(lightOf: (x: number, y: number) => number): { repaired: Picture; truth: Picture } {
  const random = randomFrom('wall')
  const repaired = picture(SIZE, SIZE)
  const truth = picture(SIZE, SIZE)
  for (let i = 0; i < SIZE * SIZE; i++) {
    const grey = 0.2 * (1 + 0.1 * (random() - 0.5))
    repaired.data.fill(grey * lightOf(i % SIZE, Math.floor(i / SIZE)), 3 * i, 3 * i + 3)
    truth.data.fill(toDisplay(grey), 3 * i, 3 * i + 3)
  }
  return { repaired, truth }
}

/** Left half by piece 0, right half by piece 1. */
const halves = Int16Array.from({ length: SIZE * SIZE }, (_, i) => (i % SIZE < SIZE / 2 ? 0 : 1))

describe('the step across a seam', () => {
  test('of a repair that is the truth is no larger than the truth has it', () => {
    const { repaired, truth } = walls(() => 1)
    const steps = stepsAcross(halves, SIZE, repaired, 0, truth, 0)
    expect(steps.pairs).toBe(SIZE)
    expect(stepRatio([steps])).toBeCloseTo(1, 3)
  })

  test('grows with a step of light between the pieces, and not with one inside of a piece', () => {
    const between = walls((x) => (x < SIZE / 2 ? 1 : 1.2))
    const seen = stepsAcross(halves, SIZE, between.repaired, 0, between.truth, 0)
    // Texture aside, each pair steps by log2(1.2).
    expect(Math.sqrt(seen.repaired / seen.pairs)).toBeGreaterThan(0.8 * Math.log2(1.2))
    expect(stepRatio([seen])!).toBeGreaterThan(2)
    const inside = walls((x) => (x < 2 ? 1 : 1.2))
    expect(stepRatio([stepsAcross(halves, SIZE, inside.repaired, 0, inside.truth, 0)])).toBeCloseTo(1, 3)
  })

  test('is absent where all is of one piece, and outside of the region nothing counts', () => {
    const { repaired, truth } = walls(() => 1)
    const one = new Int16Array(SIZE * SIZE)
    expect(stepRatio([stepsAcross(one, SIZE, repaired, 0, truth, 0)])).toBeNull()
    const right = halves.map((p) => (p === 1 ? -1 : p))
    expect(stepsAcross(right, SIZE, repaired, 0, truth, 0).pairs).toBe(0)
  })
})

test("a mosaic's map is laid where its frame has it, its edge goes on, and the region's corners belong to nobody", () => {
  const rows = Array.from({ length: 20 }, () => '0:6 1:10 0:4')
  const box = { x: 100, y: 50, w: 20, h: 20 }
  const pieces = piecesOn({ box: [98, 50, 20, 20], rows }, { dx: 1, dy: 0 }, box)
  // The frame's pixel x shows the map's x - 1, whose runs begin at 98: piece 1 from 105 to 114.
  expect([...pieces.subarray(10 * 20, 11 * 20)].join('')).toBe('00000111111111100000')
  expect(pieces[0]).toBe(-1)
})
