// Slow twin: the engine's own sort, which the language defines (ECMA-262, TypedArray.prototype.sort: -0 before 0).
import { expect, test } from 'vitest'
import { FloatSorter } from '../../src/match/sort-floats.js'
import { normal, randomFrom } from '../random.js'

test('samples are put in the order that the engine puts them in, to the last bit', () => {
  const random = randomFrom('sort floats')
  const sorter = new FloatSorter(500)
  for (let round = 0; round < 200; round++) {
    const scale = 10 ** Math.round(60 * (random() - 0.5))
    const values = Float32Array.from({ length: Math.floor(500 * random()) }, () =>
      round % 4 === 0 ? Math.round(3 * normal(random)) : scale * normal(random),
    )
    values.set([0, -0, Number.POSITIVE_INFINITY, -1e38, 1e-45, -1e-45].slice(0, values.length))
    const expected = values.slice().sort()
    sorter.sort(values)
    expect(new Uint32Array(values.buffer)).toEqual(new Uint32Array(expected.buffer))
  }
})

test('part of a list is sorted where it lies, and the rest stays', () => {
  const values = Float32Array.of(9, 3, -1, 2, 8)
  new FloatSorter(3).sort(values.subarray(1, 4))
  expect([...values]).toEqual([9, -1, 2, 3, 8])
})
