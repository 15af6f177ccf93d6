// The wavelet kernel against its straight twin and against the transform itself, in all columns and in some.
import { afterAll, describe, expect, test } from 'vitest'
import { lookUp, undoWavelet } from '../../src/kernels/wavelet.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { randomFrom } from '../random.js'
import { Guarded } from './guarded.js'
import { straightWavelet, transform } from './wavelet.reference.js'

const workspace = new Workspace()
afterAll(() => workspace.close())

const SIZES = [
  [1, 1],
  [2, 1],
  [5, 3],
  [16, 2],
  [31, 7],
  [64, 32],
  [101, 32],
  [40, 50],
] as const
const random = randomFrom('wavelet')
const anyWords = (count: number, below = 65536) => Uint16Array.from({ length: count }, () => below * random())

describe('the wavelet kernel', () => {
  // below 2^14 sums keep their sign, above they wrap
  test.each([12_000, 65_535])('undoes the transform of words up to %i', (highest) => {
    for (const [width, height] of SIZES) {
      const words = anyWords(width * height, highest + 1)
      const coded = words.slice()
      transform(coded, width, height, highest)
      undoWavelet(
        workspace,
        { data: coded, columns: width, step: 1, rows: height, pitch: width },
        highest,
        0,
        width,
      )
      expect(coded).toEqual(words)
    }
  })

  test.each([12_000, 65_535])('makes of any words what the straight pairs make, highest %i', (highest) => {
    for (const [columns, rows] of SIZES) {
      for (const step of [1, 2]) {
        const pitch = columns * step
        const words = anyWords(rows * pitch)
        const expected = words.slice()
        straightWavelet(expected, step - 1, columns, step, rows, pitch, highest)
        const from = Math.floor(columns * random())
        const to = from + 1 + Math.floor((columns - from) * random())
        for (const [first, last] of [
          [0, columns],
          [from, to],
        ]) {
          workspace.within((scratch) => {
            const guarded = new Guarded(scratch)
            const whole = guarded.words(words.length)
            whole.set(words)
            const data = whole.subarray(step - 1)
            undoWavelet(workspace, { data, columns, step, rows, pitch }, highest, first, last)
            guarded.check()
            for (let y = 0; y < rows; y++) {
              for (let x = first; x < last; x++)
                expect(data[y * pitch + x * step]).toBe(expected[y * pitch + x * step + step - 1])
            }
          })
        }
      }
    }
  })
})

test('words go through a table in the rows and columns that are named, and nowhere else', () => {
  const table = anyWords(65536)
  const words = anyWords(60)
  const out = words.slice()
  lookUp(workspace, out, 7, 5, 12, table)
  expect(out).toEqual(words.map((word, i) => (i % 12 < 7 ? table[word] : word)))
})
