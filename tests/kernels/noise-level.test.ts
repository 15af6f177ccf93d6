// What noise is told by, against the same told straight in doubles, to the last bit.
import { expect, test } from 'vitest'
import { rootNoise } from '../../src/kernels/noise-level.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { randomFrom } from '../random.js'

const workspace = new Workspace()

/** The slow twin. */
function told(rgb: Float32Array, inside: Float32Array, width: number): [number, number] {
  const height = inside.length / width
  const roots = inside.map((_, i) => Math.sqrt(Math.max(0, rgb[3 * i + 1])))
  let [noise, sum] = [0, 0]
  for (let y = 1; y < height - 1; y++)
    for (let x = 1; x < width - 1; x++) {
      const i = y * width + x
      if (!(inside[i] > 0)) continue
      const [up, down] = [i - width, i + width]
      const corners = roots[up - 1] + roots[up + 1] + roots[down - 1] + roots[down + 1]
      const sides = roots[up] + roots[down] + roots[i - 1] + roots[i + 1]
      noise += Math.abs(corners - 2 * sides + 4 * roots[i])
      sum += roots[i]
    }
  return [noise, sum]
}

test.each([
  [1, 1],
  [2, 5],
  [3, 3],
  [4, 6],
  [37, 21],
  [64, 40],
])('of %i x %i pixels', (width, height) => {
  const random = randomFrom(`noise level ${width} ${height}`)
  const pixels = width * height
  const rgb = Float32Array.from({ length: 3 * pixels }, () => 1.2 * random() - 0.2)
  const inside = Float32Array.from({ length: pixels }, () => Math.max(0, random() - 0.4))
  expect(rootNoise(workspace, { rgb, inside, width })).toEqual(told(rgb, inside, width))
  if (pixels < 100) return
  // Whoever is no number, and counts, is heard.
  inside.fill(1)
  rgb[3 * (2 * width + 5) + 1] = Number.NaN
  expect(rootNoise(workspace, { rgb, inside, width })).toEqual([Number.NaN, Number.NaN])
})
