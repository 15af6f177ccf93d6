// Against the same told straight in double precision, pixel by pixel.
import { describe, expect, test } from 'vitest'
import { addChange, addSteps, CELL_PX, INSIDE, markSides, RING } from '../../src/kernels/change.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { randomFrom } from '../random.js'

const TELLING = { black: 0.1, clip: 0.9 }
const EDGES = [TELLING.black, TELLING.clip].flatMap((v) => [Math.fround(v), v * (1 - 1e-7), v * (1 + 1e-7)])

describe.each([
  [1, 1],
  [5, 3],
  [37, 21],
  [64, 40],
])('of %i x %i pixels', (width, height) => {
  const workspace = new Workspace()
  const random = randomFrom(`change ${width}`)
  const pixels = width * height
  const columns = Math.ceil(width / CELL_PX)
  const cells = columns * Math.ceil(height / CELL_PX)
  const cellOf = (i: number) =>
    Math.floor(Math.floor(i / width) / CELL_PX) * columns + Math.floor((i % width) / CELL_PX)
  const picture = () => {
    const data = Float32Array.from({ length: 3 * pixels }, () => random())
    if (pixels > 1) data[3] = Number.NaN
    // As near to where samples tell no more as float32 comes, to either side, and on it.
    if (pixels > 100) for (const [k, v] of EDGES.entries()) data[3 * (20 + 2 * k) + 1] = v
    return data
  }
  const covered = () => ({
    alpha: Float32Array.from({ length: pixels }, () => Math.min(1, Math.floor(4 * random()) / 2)),
    surround: Float32Array.from({ length: pixels }, () => (random() < 0.7 ? 1 : 0)),
  })
  const tells = (data: Float32Array, i: number) =>
    [0, 1, 2].every((c) => data[3 * i + c] < TELLING.clip) && data[3 * i + 1] > TELLING.black

  test.each([
    [0, 0],
    [3, -2],
    [-1, 4],
    [70, 0],
  ])('patch and plate are told apart where a frame was moved by %i, %i', (dx, dy) => {
    const [a, b] = [covered(), covered()]
    const out = new Uint8Array(pixels).fill(7)
    markSides(workspace, a, b, width, dx, dy, out)
    for (let y = 0, i = 0; y < height; y++)
      for (let x = 0; x < width; x++, i++) {
        const [u, v] = [x - dx, y - dy]
        const j = v * width + u
        const isSeen = u >= 0 && v >= 0 && u < width && v < height
        const inside = isSeen && a.alpha[i] === 1 && b.alpha[j] === 1
        const ring = isSeen && a.alpha[i] === 0 && b.alpha[j] === 0 && a.surround[i] > 0 && b.surround[j] > 0
        expect(out[i]).toBe(inside ? INSIDE : ring ? RING : 0)
      }
  })

  test('steps at some pixels are those that tell in plate and patch, to the last bit', () => {
    const [plate, own] = [picture(), picture()]
    const band = Int32Array.from(Array.from({ length: pixels }, (_, i) => i).filter(() => random() < 0.6))
    const made = () => ({
      ...{ count: new Float64Array(cells), light: new Float64Array(3 * cells) },
      step: new Float64Array(3 * cells),
    })
    const [found, wanted] = [made(), made()]
    for (const i of band) {
      if (!tells(plate, i) || !tells(own, i)) continue
      wanted.count[cellOf(i)]++
      for (let c = 0; c < 3; c++) {
        wanted.light[3 * cellOf(i) + c] += plate[3 * i + c]
        wanted.step[3 * cellOf(i) + c] += own[3 * i + c] - plate[3 * i + c]
      }
    }
    addSteps(workspace, plate, own, band, width, TELLING, found)
    expect(found).toEqual(wanted)
    if (pixels > 100) expect(found.count.some((n) => n > 0)).toBe(true)
  })

  test('sums of a pair are those of the samples that tell in both', () => {
    const [one, two] = [picture(), picture()]
    const sides = Uint8Array.from({ length: pixels }, () => Math.floor(3 * random()))
    const made = () => ({ count: new Float64Array(cells), sums: new Float64Array(15 * cells) })
    const [inside, ring, wantedInside, wantedRing] = [made(), made(), made(), made()]
    const left = sides.map((side, i) => (tells(one, i) && tells(two, i) ? side : 0))
    for (const [i, side] of left.entries()) {
      if (side === 0) continue
      const { count, sums } = side === INSIDE ? wantedInside : wantedRing
      count[cellOf(i)]++
      for (let c = 0; c < 3; c++) {
        const [a, b] = [one[3 * i + c], two[3 * i + c]]
        for (const [k, v] of [a, b, a * a, a * b, b * b].entries()) sums[15 * cellOf(i) + 5 * c + k] += v
      }
    }
    addChange(workspace, one, two, sides, width, TELLING, inside, ring)
    expect(sides).toEqual(left)
    expect([inside, ring]).toEqual([wantedInside, wantedRing])
  })
})
