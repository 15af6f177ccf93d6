// Slow twin: the engine's own sort, which the language defines (ECMA-262, TypedArray.prototype.sort: -0 before 0).
import { expect, test } from 'vitest'
import { sortSamples } from '../../src/kernels/sort.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { normal, randomFrom } from '../random.js'

const workspace = new Workspace()

test('samples are put in the order that the engine puts them in, to the last bit', () => {
  const random = randomFrom('sort floats')
  for (let round = 0; round < 200; round++) {
    const scale = 10 ** Math.round(60 * (random() - 0.5))
    const values = Float32Array.from({ length: Math.floor(500 * random()) }, () =>
      round % 4 === 0 ? Math.round(3 * normal(random)) : scale * normal(random),
    )
    values.set([0, -0, Number.POSITIVE_INFINITY, -1e38, 1e-45, -1e-45].slice(0, values.length))
    const expected = values.slice().sort()
    sortSamples(workspace, values)
    expect(new Uint32Array(values.buffer)).toEqual(new Uint32Array(expected.buffer))
  }
})

test('part of a list is sorted where it lies, and the rest stays', () => {
  const values = Float32Array.of(9, 3, -1, 2, 8)
  sortSamples(workspace, values.subarray(1, 4))
  expect([...values]).toEqual([9, -1, 2, 3, 8])
})
