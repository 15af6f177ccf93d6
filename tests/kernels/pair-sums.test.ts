// Many donors at once against one after the other, to the last bit, and both against sums in double precision.
import { expect, test } from 'vitest'
import { knownRows, PAIR_SUMS, pairSums, pairSumsOf } from '../../src/kernels/pair-sums.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { normal, randomFrom } from '../random.js'

const workspace = new Workspace()
const DONORS = 6

test.each([
  { length: 3, from: 0 },
  { length: 64, from: 0 },
  { length: 67, from: 5 },
  { length: 500, from: 12 },
  { length: 1030, from: 1 },
])('$length samples from $from on are summed as those of single pairs', ({ length, from }) => {
  const random = randomFrom(`pair sums ${length}`)
  const stride = from + length + 7
  const samples = Float32Array.from({ length: DONORS * stride }, () => normal(random))
  // Donors that may be used all over, nowhere, and in parts; of a target without holes some weights are 1 in whole blocks.
  const shown = [1, 0, 0.5, 0.99, 1, 0.999]
  const validity = Uint8Array.from({ length: DONORS * stride }, (_, i) =>
    random() < shown[Math.floor(i / stride)] ? 1 : 0,
  )
  const target = Float32Array.from({ length }, () => normal(random))
  const list = Int32Array.of(4, 0, 2, 1, 5, 3, 3)
  const ones = new Float32Array(length).fill(1)
  const some = Float32Array.from({ length }, random)
  const besides = some.map((w) => (random() < 0.995 ? w : 0))
  for (const [usual, weight] of [
    [ones, ones],
    [ones, ones.map(() => (random() < 0.995 ? 1 : 0))],
    [some, some],
    [some, besides],
    [some, ones],
  ]) {
    const rows = knownRows(workspace, workspace.hold(), { samples, validity, length: stride }, from, usual)
    const found = new Float64Array(PAIR_SUMS * list.length)
    pairSumsOf(workspace, target, weight, rows, list, found)
    for (const [k, d] of list.entries()) {
      const at = d * stride + from
      const donor = samples.subarray(at, at + length)
      const valid = validity.subarray(at, at + length)
      const own = found.subarray(PAIR_SUMS * k, PAIR_SUMS * (k + 1))
      expect([...own]).toEqual([...pairSums(workspace, target, donor, weight, valid)])
      const straight = [0, 0, 0, 0, 0, 0]
      for (let i = 0; i < length; i++) {
        const w = weight[i] * valid[i]
        const [t, d] = [target[i], donor[i]]
        for (const [s, v] of [1, t, d, t * t, d * d, (t - d) ** 2].entries()) straight[s] += w * v
      }
      for (const [s, sum] of straight.entries()) expect(Math.abs(own[s] - sum)).toBeLessThan(1e-5 * length)
    }
  }
})
