// Sums over cells against the same told straight, to the last bit: both add in the order of the pixels.
import { expect, test } from 'vitest'
import { CELL_PX, cellDistances, cellProducts } from '../../src/kernels/cells.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { randomFrom } from '../random.js'

const workspace = new Workspace()
const SIZES = [
  [7, 20],
  [8, 8],
  [37, 26],
  [64, 17],
] as const

function pictures(width: number, height: number) {
  const random = randomFrom(`cells ${width} ${height}`)
  const make = () => Float32Array.from({ length: 3 * width * height }, () => random())
  const counts = Float32Array.from({ length: width * height }, () => Math.max(0, random() - 0.3))
  return { one: make(), two: make(), counts, width }
}

/** Calls `add` for each pixel that counts, and `done` after each cell. */
function eachCell(
  { counts, width }: ReturnType<typeof pictures>,
  step: number,
  add: (green: number) => void,
  done: () => void,
): void {
  const height = counts.length / width
  for (let top = 0; top + CELL_PX <= height; top += step)
    for (let left = 0; left + CELL_PX <= width; left += step) {
      for (let y = top; y < top + CELL_PX; y++)
        for (let x = left; x < left + CELL_PX; x++) {
          const i = y * width + x
          if (counts[i]! > 0) add(3 * i + 1)
        }
      done()
    }
}

test.each(SIZES)(
  'products over %s x %s, cells beside each other and apart, holes left out',
  (width, height) => {
    const pair = pictures(width, height)
    pair.one[4] = Number.NaN
    pair.two[7] = Number.POSITIVE_INFINITY
    for (const step of [8, 16, 24]) {
      const truth: number[] = []
      let sums = [0, 0, 0, 0, 0, 0]
      const add = (green: number) => {
        const [u, v] = [pair.one[green]!, pair.two[green]!]
        if (!Number.isFinite(u) || !Number.isFinite(v)) return
        for (const [k, more] of [1, u, v, u * u, u * v, v * v].entries()) sums[k]! += more
      }
      eachCell(pair, step, add, () => {
        truth.push(...sums)
        sums = [0, 0, 0, 0, 0, 0]
      })
      expect([...cellProducts(workspace, pair, step)]).toEqual(truth)
    }
  },
)

test.each(SIZES)('distances over %s x %s, and a hole is told', (width, height) => {
  const pair = pictures(width, height)
  pair.one[4] = Number.NaN
  pair.counts[1] = 1
  const truth: number[] = []
  let sums = [0, 0, 0]
  const add = (green: number) => {
    const [u, v] = [pair.one[green]!, pair.two[green]!]
    for (const [k, more] of [1, v, (u - v) ** 2].entries()) sums[k]! += more
  }
  eachCell(pair, CELL_PX, add, () => {
    truth.push(...sums)
    sums = [0, 0, 0]
  })
  expect([...cellDistances(workspace, pair)]).toEqual(truth)
})
