// Words of three 10-bit samples against the definition (SMPTE ST 268-1, annex C), whatever they hold.
import { afterAll, expect, test } from 'vitest'
import { tenBits } from '../../src/kernels/dpx.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { randomFrom } from '../random.js'
import { Guarded } from './guarded.js'

const workspace = new Workspace()
afterAll(() => workspace.close())

test.each([
  [false, 2],
  [false, 0],
  [true, 2],
  [true, 0],
] as const)('any words, little-endian %s, %i bits unused below', (littleEndian, unused) => {
  const random = randomFrom('ten bits')
  const table = Uint16Array.from({ length: 1024 }, () => 65536 * random())
  for (const pixels of [0, 1, 5, 300]) {
    const words = Uint8Array.from({ length: 4 * pixels }, () => 256 * random())
    const view = new DataView(words.buffer)
    const expected: number[] = []
    for (let i = 0; i < pixels; i++) {
      const word = view.getUint32(4 * i, littleEndian)
      for (const top of [20, 10, 0]) expected.push(table[(word >>> (top + unused)) & 1023])
    }
    workspace.within((scratch) => {
      const guarded = new Guarded(scratch)
      const out = guarded.words(3 * pixels)
      tenBits(workspace, words, { littleEndian, unused }, table, out)
      guarded.check()
      expect([...out]).toEqual(expected)
    })
  }
})
