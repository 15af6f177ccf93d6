import { describe, expect, test } from 'vitest'
import { boxMean, detailVariance, keepDetail } from '../../src/kernels/box.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { randomFrom } from '../random.js'

/** The mean of what of a square lies inside, the long way. */
function meanAt(data: Readonly<Float32Array>, width: number, x: number, y: number, radius: number): number {
  const height = data.length / width
  let [sum, n] = [0, 0]
  for (let v = Math.max(0, y - radius); v <= Math.min(height - 1, y + radius); v++)
    for (let u = Math.max(0, x - radius); u <= Math.min(width - 1, x + radius); u++) {
      sum += data[v * width + u]
      n++
    }
  return sum / n
}

const meansOf = (data: Readonly<Float32Array>, width: number, radius: number) =>
  Float32Array.from(data, (_, i) => meanAt(data, width, i % width, Math.floor(i / width), radius))

describe('mean over a square', () => {
  test.each([
    [9, 7, 2],
    [3, 12, 4],
    [1, 1, 3],
  ])('of %i x %i pixels, radius %i, is the mean of what lies inside', (w, h, radius) => {
    const workspace = new Workspace()
    const source = Float32Array.from({ length: w * h }, (_, i) => ((i * 37) % 11) - 4)
    const out = boxMean(workspace, source, w, radius)
    expect(out.length).toBe(w * h)
    for (const [i, v] of meansOf(source, w, radius).entries()) expect(out[i]).toBeCloseTo(v, 5)
    workspace.close()
  })
})

describe.each([
  { width: 37, height: 23 },
  { width: 16, height: 5 },
  { width: 3, height: 2 },
])('of a wall of $width x $height with a bright lamp on it', ({ width, height }) => {
  const random = randomFrom('lamp')
  const wall = Float32Array.from(
    { length: width * height },
    (_, i) => 0.2 + 0.05 * random() + (i === 4 ? 900 : 0),
  )

  test('detail’s variance is the mean of squares of what differs from the mean', () => {
    const workspace = new Workspace()
    const mean = meansOf(wall, width, 2)
    const wanted = meansOf(
      wall.map((v, i) => (v - mean[i]) ** 2),
      width,
      1,
    )
    const found = wall.slice()
    detailVariance(workspace, found, width, 2, 1)
    for (const [i, v] of wanted.entries()) expect(Math.abs(found[i] - v)).toBeLessThan(1e-5 * v + 1e-7)
    workspace.close()
  })

  test('detail is brought down where it is to be, and the rest is left bit for bit', () => {
    const workspace = new Workspace()
    const stays = wall.map((_, i) => (i % 3 === 0 ? 1 : (i % 7) / 7))
    const mean = meansOf(wall, width, 2)
    const found = wall.slice()
    keepDetail(workspace, found, stays, width, 2)
    for (const [i, v] of wall.entries()) {
      if (stays[i] === 1) expect(found[i]).toBe(v)
      else
        expect(Math.abs(found[i] - (mean[i] + stays[i] * (v - mean[i])))).toBeLessThan(
          1e-6 * Math.abs(v) + 1e-5,
        )
    }
    workspace.close()
  })
})
