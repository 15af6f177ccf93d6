import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { gapsIn, isPattern, matchPattern, sequencesIn, stillOf } from '../../src/footage/naming.js'

const shown = (names: readonly string[]) =>
  sequencesIn(names).map(({ name, files }) => ({ name, frames: [...files.keys()] }))

const CASES: readonly { title: string; files: string[]; found: { name: string; frames: number[] }[] }[] = [
  {
    title: 'frames come in the order of their numbers, not of their names',
    files: ['q.10.png', 'q.9.png', 'q.100.png'],
    found: [{ name: 'q.#.png', frames: [9, 10, 100] }],
  },
  {
    title: 'four digits, and five where the plate runs past 9999',
    files: ['q.9999.exr', 'q.10000.exr'],
    found: [{ name: 'q.####.exr', frames: [9999, 10000] }],
  },
  {
    title: 'eight digits',
    files: ['q_00086400.dpx', 'q_00086401.dpx'],
    found: [{ name: 'q_########.dpx', frames: [86400, 86401] }],
  },
  {
    title: 'mixed padding is one plate',
    files: ['q.1.png', 'q.02.png', 'q.0003.png'],
    found: [{ name: 'q.#.png', frames: [1, 2, 3] }],
  },
  {
    title: 'frame 0 and negative frames after a separator',
    files: ['q.-0002.png', 'q.-0001.png', 'q.0000.png', 'q.0001.png'],
    found: [{ name: 'q.####.png', frames: [-2, -1, 0, 1] }],
  },
  {
    title: 'negative frames as printf writes them, the minus part of the width',
    files: ['q.-002.png', 'q.0001.png'],
    found: [{ name: 'q.####.png', frames: [-2, 1] }],
  },
  {
    title: 'a hyphen after a letter or a digit is no minus',
    files: ['q-0001.png', 'q-0002.png', '2024-0001.png', '2024-0002.png'],
    found: [
      { name: '2024-####.png', frames: [1, 2] },
      { name: 'q-####.png', frames: [1, 2] },
    ],
  },
  {
    title: 'bare numbers, negative ones too',
    files: ['0001.jpg', '0002.jpg', '-0001.jpg'],
    found: [{ name: '####.jpg', frames: [-1, 1, 2] }],
  },
  {
    title: 'the last number counts, versions and takes are part of the name',
    files: ['take2_v013.1001.exr', 'take2_v013.1002.exr', 'take3_v013.1001.exr', 'take3_v013.1002.exr'],
    found: [
      { name: 'take2_v013.####.exr', frames: [1001, 1002] },
      { name: 'take3_v013.####.exr', frames: [1001, 1002] },
    ],
  },
  {
    title: 'a number that stays the same after the one that counts',
    files: ['q_1001_v2.png', 'q_1002_v2.png', 'q_1003_v2.png'],
    found: [{ name: 'q_####_v2.png', frames: [1001, 1002, 1003] }],
  },
  {
    title: 'the same plate in two formats is two plates',
    files: ['q.1001.exr', 'q.1002.exr', 'q.1001.jpg', 'q.1002.jpg'],
    found: [
      { name: 'q.####.exr', frames: [1001, 1002] },
      { name: 'q.####.jpg', frames: [1001, 1002] },
    ],
  },
  {
    title: 'digits in the ending do not count',
    files: ['q.0001.mp4', 'q.0002.mp4'],
    found: [{ name: 'q.####.mp4', frames: [1, 2] }],
  },
  {
    title: 'names without a number, or with one too long to be a frame, are no frames',
    files: ['reference.png', 'q.1234567890123456.png'],
    found: [],
  },
  {
    title: 'spaces, quotes, brackets, emoji and newlines are letters like any other',
    files: [`a "b" [c] * 🙂\n.0007.png`, `a "b" [c] * 🙂\n.0008.png`],
    found: [{ name: `a "b" [c] * 🙂\n.####.png`, frames: [7, 8] }],
  },
]

describe('file names into sequences', () => {
  for (const { title, files, found } of CASES) {
    test(title, () => {
      expect(shown(files)).toEqual(found)
      expect(shown([...files].reverse())).toEqual(found)
    })
  }

  test('every numbered name lands in exactly one sequence', () => {
    const part = fc.constantFrom('q', '.', '_', '-', '1001', '2', '007', '-3', ' ')
    const name = fc.array(part, { minLength: 1, maxLength: 5 }).map((parts) => `${parts.join('')}.png`)
    fc.assert(
      fc.property(fc.uniqueArray(name, { maxLength: 12 }), (names) => {
        const sequences = sequencesIn(names)
        const placed = sequences.flatMap((s) => [...s.files.values()])
        expect(new Set(placed).size).toBe(placed.length)
        const clashing = sequences.some((s) => s.clash !== null)
        if (!clashing) expect(placed.sort()).toEqual(names.filter((n) => /\d/.test(n)).sort())
      }),
      { seed: 21 },
    )
  })

  test('two files with one number are told', () => {
    expect(sequencesIn(['q.1.png', 'q.0001.png', 'q.2.png'])[0]!.clash).toEqual(['q.0001.png', 'q.1.png'])
  })

  test('-0000 is frame 0, not minus zero', () => {
    expect(Object.is([...sequencesIn(['q.-0000.png'])[0]!.files.keys()][0], 0)).toBe(true)
  })

  test('a picture without a number is frame 1', () => {
    expect([...stillOf('clean.png').files]).toEqual([[1, 'clean.png']])
  })
})

describe('patterns', () => {
  const FILES = [
    'q.0007.png',
    'q.0008.png',
    'q.10000.png',
    'q.00012.png',
    'q.-003.png',
    'q.x.png',
    'r.0009.png',
  ]
  const matched = (pattern: string) => [...(matchPattern(pattern, FILES)?.files.keys() ?? [])]

  test('%04d and #### take numbers padded to four digits, and longer ones that need no padding', () => {
    expect(matched('q.%04d.png')).toEqual([-3, 7, 8, 10000])
    expect(matched('q.####.png')).toEqual([-3, 7, 8, 10000])
  })

  test('%05d takes five', () => expect(matched('q.%05d.png')).toEqual([12, 10000]))

  test('%d and # take any padding', () => {
    expect(matched('q.%d.png')).toEqual([-3, 7, 8, 12, 10000])
    expect(matched('q.#.png')).toEqual([-3, 7, 8, 12, 10000])
  })

  test('no match is null', () => {
    expect(matchPattern('s.%04d.png', FILES)).toBeNull()
    expect(matchPattern('q.png', FILES)).toBeNull()
  })

  test('what is a pattern and what is not', () => {
    for (const name of ['a.%04d.exr', 'a.%d.exr', 'a.####.exr', '#.exr'])
      expect(isPattern(name), name).toBe(true)
    for (const name of ['a.exr', '100%.exr', 'a.%s.exr', 'a.*.exr']) expect(isPattern(name), name).toBe(false)
  })

  test('the name of every sequence means that sequence again', () => {
    const number = fc.integer({ min: -50, max: 20_000 })
    const written = (n: number, padding: number) =>
      (n < 0 ? '-' : '') + String(Math.abs(n)).padStart(padding, '0')
    fc.assert(
      fc.property(
        fc.uniqueArray(number, { minLength: 1, maxLength: 9 }),
        fc.integer({ min: 1, max: 8 }),
        (numbers, padding) => {
          const files = numbers.map((n) => `quay.${written(n, padding)}.png`)
          const [sequence] = sequencesIn(files)
          expect(matchPattern(sequence!.name, files)).toEqual(sequence)
        },
      ),
      { seed: 22 },
    )
  })
})

test('gaps are runs of missing numbers', () => {
  expect(gapsIn([1001, 1002, 1005, 1006, 1008])).toEqual([
    { first: 1003, last: 1004 },
    { first: 1007, last: 1007 },
  ])
  expect(gapsIn([-2, 1])).toEqual([{ first: -1, last: 0 }])
  expect(gapsIn([5])).toEqual([])
  expect(gapsIn([0, 2 ** 40])).toEqual([{ first: 1, last: 2 ** 40 - 1 }])
})
