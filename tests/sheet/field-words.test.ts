// A field of light in words: planted terms, whose largest difference over the region is known.
import { expect, test } from 'vitest'
import type { FrameMatch } from '../../src/search/result.js'
import { fieldWords } from '../../src/sheet/data/field-words.js'

const region = { box: [100, 50, 101, 61] as [number, number, number, number] }
const field = (...stops: [number, number, number][]) => ({ x: 150, y: 80, span: 100, stops })
const frames = (...fields: (FrameMatch['field'] | undefined)[]) =>
  fields.map((of) => ({ field: of }) as FrameMatch)

test('a ramp of 0.2 stops a hundred pixels is one of 0.2 over a region of as many', () => {
  const found = frames(undefined, field([9, 0.2, 9], [9, 0, 9]))
  expect(fieldWords({ frames: found }, region)).toBe('up to 0.20 stops, a plane')
})

test('a surface of second order is named so: 0.1 u u has a quarter of 0.1 at the edges', () => {
  const found = frames(field([0, 0, 0], [0, 0, 0], [0, 1, 0], [0, 0, 0]))
  // u from -0.5 to 0.5, v from -0.3 to 0.3: from -0.09 to 0.25.
  expect(fieldWords({ frames: found }, region)).toBe('up to 0.34 stops, a curved surface')
})

test('one gain for all of the region is not said', () => {
  expect(fieldWords({ frames: frames(undefined) }, region)).toBeNull()
})
