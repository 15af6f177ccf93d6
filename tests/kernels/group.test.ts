// The group of a column's samples that agree, against the same told for one column in doubles, to the last bit.
import { expect, test } from 'vitest'
import { agreeingGroups } from '../../src/kernels/sort.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { agreeingGroup, mean } from '../../src/match/agreeing-group.js'
import { randomFrom } from '../random.js'

const workspace = new Workspace()
/** As `agreeing-group.ts` has them. */
const OF = { few: 3, share: 0.3, lengthSigma: 0.7706, widthSigma: 3.5 }

test.each([
  { frames: 3, least: 0 },
  { frames: 9, least: 0.2 },
  { frames: 24, least: 0 },
  { frames: 61, least: 0.01 },
])('of $frames samples, $least stops at least', ({ frames, least }) => {
  const columns = 37
  const random = randomFrom(`groups ${frames}`)
  // Two states and whoever passes; some columns have few samples or none.
  const sorted = new Float32Array(columns * frames)
  const seen = Int32Array.from({ length: columns }, (_, c) =>
    c % 5 === 0 ? frames : Math.floor((frames + 1) * random()),
  )
  for (let c = 0; c < columns; c++)
    sorted
      .subarray(c * frames, (c + 1) * frames)
      .set(
        Float32Array.from(
          { length: frames },
          () => (random() < 0.7 ? 1 : 3 * random()) + 0.1 * random(),
        ).sort(),
      )
  const [level, spread, support, half] = [0, 1, 2, 3].map(() => new Float32Array(columns).fill(7))
  agreeingGroups(workspace, sorted, seen, { ...OF, least }, level, spread, support, half)
  for (let c = 0; c < columns; c++) {
    const first = c * frames
    if (seen[c] < OF.few) {
      expect([level[c], spread[c], support[c], half[c]]).toEqual([seen[c] > 0 ? sorted[first] : 0, 7, 7, 7])
      continue
    }
    const bounds = new Int32Array(2)
    agreeingGroup(sorted, bounds, least, first, first + seen[c])
    const [low, high] = bounds
    const middle = Math.fround(mean(sorted, low, high))
    let squares = 0
    for (let i = low; i < high; i++) squares += (sorted[i] - middle) * (sorted[i] - middle)
    const off = Math.fround(Math.sqrt(squares / (high - low)))
    expect([level[c], spread[c], support[c]]).toEqual([middle, off, Math.fround((high - low) / seen[c])])
    const reach = [...sorted.subarray(first, first + seen[c])]
      .map((v) => Math.abs(v - middle))
      .sort((a, b) => a - b)
    expect(half[c]).toBe(Math.fround(reach[Math.ceil(seen[c] / 2) - 1]))
  }
})
