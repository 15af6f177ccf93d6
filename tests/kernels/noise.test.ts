import { describe, expect, test } from 'vitest'
import { addFiltered } from '../../src/kernels/noise.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { randomFrom } from '../random.js'

const { fround } = Math

/** The slow twin: tap by tap, row by row, each step rounded to float32. */
function filtered(
  field: Readonly<Float32Array>,
  weights: Readonly<Float32Array>,
  takes: Readonly<Float32Array>,
  into: Readonly<Float32Array>,
  width: number,
): Float32Array {
  const side = Math.sqrt(weights.length)
  const height = into.length / width
  const round = (i: number, n: number) => ((i % n) + n) % n
  return into.map((own, i) => {
    const [x, y] = [i % width, Math.floor(i / width)]
    let sum = 0
    for (let v = 0; v < side; v++)
      for (let u = 0; u < side; u++) {
        const at = round(y + v - (side >> 1), height) * width + round(x + u - (side >> 1), width)
        sum = fround(sum + fround(weights[v * side + u] * field[at]))
      }
    return takes[i] === 0 ? own : fround(own + fround(takes[i] * sum))
  })
}

describe('noise under a filter', () => {
  test.each([
    [1, 30, 1],
    [3, 12, 3],
    [15, 4, 5],
    [16, 6, 3],
    [18, 5, 7],
    [37, 9, 5],
    [67, 8, 15],
  ])(
    'of %i x %i pixels, %i taps a side, is the plain sum bit for bit, and stays where none is wanted',
    (width, height, side) => {
      const random = randomFrom(`noise ${width} ${side}`)
      const made = (length: number) => Float32Array.from({ length }, () => random() - 0.5)
      const [field, weights, into] = [made(width * height), made(side * side), made(width * height)]
      // A gap of 20 pixels now and then, longer than what is summed side by side, and single ones.
      const takes = made(width * height).map((v, i) => (i % 41 < 20 || random() < 0.2 ? 0 : v))
      const wanted = filtered(field, weights, takes, into, width)
      addFiltered(new Workspace(), field, weights, takes, into, width)
      for (let i = 0; i < into.length; i++)
        if (into[i] !== wanted[i]) expect([i, into[i]]).toEqual([i, wanted[i]])
      expect(into.some((_, i) => takes[i] !== 0)).toBe(true)
    },
  )
})
