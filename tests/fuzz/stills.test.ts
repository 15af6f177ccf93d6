import { expect, test } from 'vitest'
import { fuzzStills } from './stills.js'

test('broken stills, masks and result files are refused with a documented error or read, and write nothing', async () => {
  const { read, refused, grownBytes } = await fuzzStills(250, 20261125)
  const count = Object.values(refused).reduce((a, b) => a + b, 0)
  expect(read + count).toBe(250)
  expect(count).toBeGreaterThan(50)
  expect(read).toBeGreaterThan(10)
  expect(grownBytes).toBeLessThan(300 * 2 ** 20)
}, 60_000)
