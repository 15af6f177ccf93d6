// What changes from one frame to the next, and the gradients of what stands still, against the same told straight in doubles.
import { expect, test } from 'vitest'
import { gradientSquares } from '../../src/kernels/detail.js'
import { addLife } from '../../src/kernels/life.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { randomFrom } from '../random.js'

const workspace = new Workspace()

function made(width: number, height: number) {
  const random = randomFrom(`life ${width} ${height}`)
  const plane = () => Float32Array.from({ length: width * height }, () => random() - 0.5)
  const bytes = () => Uint8Array.from({ length: width * height }, () => (random() < 0.85 ? 1 : 0))
  return { a: plane(), b: plane(), light: plane(), weight: plane(), sa: bytes(), sb: bytes(), random }
}

const SIZES = [
  [1, 1],
  [5, 1],
  [1, 7],
  [4, 4],
  [19, 11],
  [64, 9],
] as const

test.each(SIZES)('the change of %i x %i pixels, to the last bit', (width, height) => {
  const { a, b, light, sa, sb, random } = made(width, height)
  const places = Int32Array.from(a.keys()).filter(() => random() < 0.7)
  const sums = Float64Array.of(1, 2, 3, 4, 5)
  const wanted = [...sums]
  const from = { aligned: a, exposure: 0.3, steady: sa }
  const to = { aligned: b, exposure: -0.2, steady: sb }
  addLife(workspace, places, from, to, light, width, sums)
  for (const i of places) {
    const both = (...at: number[]) => at.every((k) => sa[k] === 1 && sb[k] === 1)
    if (!both(i)) continue
    const changed = b[i] + -0.2 - a[i] - 0.3
    const stands = a[i] - light[i]
    wanted[0] += changed * changed
    wanted[1] += stands * stands
    wanted[2]++
    const [right, down, across] = [i + 1, i + width, i + width + 1]
    if (i % width === width - 1 || i + width >= a.length || !both(right, down, across)) continue
    const band = (b[i] - a[i] - b[right] + a[right] - b[down] + a[down] + b[across] - a[across]) / 2
    wanted[3] += changed * changed
    wanted[4] += band * band
  }
  expect([...sums]).toEqual(wanted)
})

test.each(SIZES)(
  'gradients of %i x %i pixels where both pictures stand still there and round it',
  (width, height) => {
    const { a, weight, sa, sb } = made(width, height)
    for (const both of [undefined, [sa, sb] as const]) {
      let [square, n] = [0, 0]
      for (let y = 1; y + 1 < height; y++)
        for (let x = 1; x + 1 < width; x++) {
          const i = y * width + x
          const star = [i, i - 1, i + 1, i - width, i + width]
          if (weight[i] <= 0 || (both && star.some((k) => (sa[k] & sb[k]) === 0))) continue
          square += ((a[i + 1] - a[i - 1]) / 2) ** 2 + ((a[i + width] - a[i - width]) / 2) ** 2
          n++
        }
      const found = gradientSquares(workspace, a, width, weight, both)
      expect(found[1]).toBe(n)
      expect(found[0]).toBeCloseTo(square, 4)
    }
  },
)
