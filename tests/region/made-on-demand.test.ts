import { describe, expect, test } from 'vitest'
import { MadeOnDemand } from '../../src/region/made-on-demand.js'

const [a, b, c] = [{ is: 'a' }, { is: 'b' }, { is: 'c' }]
const sources = new Map([
  [1001, a],
  [1002, a],
  [1005, b],
  [1003, c],
])

function counted(keep: number) {
  const made: string[] = []
  const make = ({ is }: { is: string }) => {
    made.push(is)
    return { of: is }
  }
  return { values: new MadeOnDemand(sources, make, keep), made }
}

describe('values made on demand', () => {
  test('are those of a map, in its order', () => {
    const { values } = counted(1)
    expect([...values].map(([frame, { of }]) => [frame, of])).toEqual(
      [...sources].map(([f, { is }]) => [f, is]),
    )
    expect([...values.keys()]).toEqual([...sources.keys()])
    expect([...values.values()].map(({ of }) => of)).toEqual(['a', 'a', 'b', 'c'])
    expect([values.size, values.has(1005), values.has(1004), values.get(1004)]).toEqual([
      4,
      true,
      false,
      undefined,
    ])
    const each: unknown[] = []
    values.forEach(({ of }, frame) => {
      each.push([frame, of])
    })
    expect(each).toEqual([...sources].map(([f, { is }]) => [f, is]))
  })

  test('are made when they are asked for, and once as long as they are kept', () => {
    const { values, made } = counted(2)
    expect(made).toEqual([])
    for (const frame of [1001, 1002, 1005, 1001]) values.get(frame)
    expect(made).toEqual(['a', 'b'])
  })

  test('are the same object for everybody who has one, however many came between', () => {
    const { values } = counted(1)
    const mine = values.get(1001)
    for (const frame of [1005, 1003, 1005]) values.get(frame)
    expect(values.get(1002)).toBe(mine)
  })

  test('that nobody has are not all kept', async () => {
    const each = 16 * 2 ** 20
    const many = new Map(Array.from({ length: 60 }, (_, i) => [i, { i }]))
    const values = new MadeOnDemand(many, () => new Float32Array(each / 4).fill(1), 2)
    const before = process.memoryUsage().arrayBuffers
    let peak = 0
    for (const frame of many.keys()) {
      values.get(frame)
      await new Promise((resolve) => setTimeout(resolve, 2))
      peak = Math.max(peak, process.memoryUsage().arrayBuffers - before)
    }
    // All of them would be 60.
    expect(peak).toBeLessThan(30 * each)
  })
})
