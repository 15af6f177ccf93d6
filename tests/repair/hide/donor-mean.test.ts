// Law: donors that lend every pixel come to the same, to the last bit, as donors that are added up pixel by pixel.
import { expect, test } from 'vitest'
import { addLent, evened, type Lending } from '../../../src/kernels/channels.js'
import { Workspace } from '../../../src/kernels/workspace.js'
import { DonorMean } from '../../../src/repair/hide/donor-mean.js'
import { randomFrom } from '../../random.js'

const PIXELS = 210
const random = randomFrom('donor mean')
const picture = () => Float32Array.from({ length: 3 * PIXELS }, () => random())
const there = (isHoled: boolean) =>
  Uint8Array.from({ length: PIXELS }, (_, i) => (isHoled && i % 7 === 3 ? 0 : 1))
const lending = (weight: number, isHoled = false, share: Float32Array | null = null): Lending => {
  const one = picture()
  return {
    picture: one,
    lit: one.map((v) => 1.2 * v),
    there: there(isHoled),
    share,
    weight,
    gain: [1.1, 0.9, 1],
  }
}
const piece = () => Float32Array.from({ length: PIXELS }, () => random())

test.each([
  { name: 'whole, of weights that come to 1', of: [lending(0.25), lending(0.5), lending(0.25)] },
  { name: 'whole, of weights that come to less', of: [lending(0.2), lending(0.3)] },
  { name: 'whole, and one that has no weight', of: [lending(0), lending(0.6), lending(0.4)] },
  { name: 'of which the last has holes', of: [lending(0.5), lending(0.25), lending(0.25, true)] },
  { name: 'of which the first has holes', of: [lending(0.5, true), lending(0.5)] },
  { name: 'of which all have the same holes', of: [lending(0.5, true), lending(0.5, true)] },
  { name: 'that are pieces', of: [lending(1, false, piece()), lending(1, false, piece())] },
  { name: 'of which there are none', of: [] },
])('donors $name', ({ of }) => {
  const workspace = new Workspace()
  const sums = { raw: new Float32Array(3 * PIXELS), matched: new Float32Array(3 * PIXELS) }
  const weight = new Float32Array(PIXELS)
  for (const one of of) addLent(workspace, one, { ...sums, weight })
  const lent = new Uint8Array(PIXELS)
  evened(workspace, { ...sums, weight }, lent)

  const held = workspace.hold()
  held.floats(8 * PIXELS).fill(Number.NaN)
  held.release()
  const again = workspace.hold()
  const mean = new DonorMean(workspace, again, PIXELS, true)
  for (const one of of) mean.add(one)
  const found = mean.done()
  expect([...found.matched]).toEqual([...sums.matched])
  expect([...found.raw!]).toEqual([...sums.raw])
  expect([...found.there]).toEqual([...lent])
  again.release()
  workspace.close()
})
