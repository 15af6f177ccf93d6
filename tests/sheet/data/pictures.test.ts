import { describe, expect, test } from 'vitest'
import { atATime } from '../../../src/sheet/data/pictures.js'

describe('pictures repaired at a time', () => {
  test.each([
    { w: 320, h: 240, most: 4 },
    { w: 1000, h: 1000, most: 4 },
    { w: 2000, h: 1000, most: 2 },
    { w: 2072, h: 2172, most: 1 },
    { w: 8192, h: 4320, most: 1 },
  ])('of $w x $h pixels: $most', ({ w, h, most }) => {
    expect(atATime({ w, h })).toBe(most)
  })
})
