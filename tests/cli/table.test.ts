// Tables on terminals of several widths.
import stringWidth from 'string-width'
import { describe, expect, test } from 'vitest'
import { loadWrapping } from '../../src/cli/io.js'
import { candidateTable, table, worthPatching } from '../../src/cli/table.js'
import { quaysideResult } from '../sheet/quayside.js'

await loadWrapping()

const HEAD = ['candidate', 'score', 'verdict', 'ncc', 'stops', 'seam', 'expected', 'clean', 'dx, dy', 'why']
const WHY = 'the region is empty, the seam is within the grain, the light is the same'
const ROWS = [
  HEAD,
  ['hold-1057', '84.9', 'holds up', '0.996', '-0.01', '0.88', '44.1', '0.995', '0.00, 0.00', WHY],
  ['mirror-2117', '4.2', 'will not hold', '0.996', '-0.01', '0.88', '43.9', '0.995', '0.00, -10.00', WHY],
]

const words = (text: string) => text.split(/\s+/).filter((w) => w !== '')

describe.each([200, 100, 80, 60, 40])('on a terminal of %i columns', (columns) => {
  const lines = table(ROWS, columns)

  test('no line is wider than the terminal, so that it breaks none of them', () => {
    for (const line of lines) expect(stringWidth(line), line).toBeLessThanOrEqual(columns)
  })

  test('every word stands whole, each row’s after the one above it', () => {
    expect(words(lines.join(' '))).toEqual(ROWS.flat().flatMap(words))
  })

  test('a number stands below the name of its column', () => {
    for (const name of ['ncc', 'clean']) {
      const under = lines.filter((line) => line.includes(name === 'ncc' ? '0.996' : '0.995'))
      const head = lines.find((line) => line.includes(name))!
      expect(under).toHaveLength(2)
      for (const line of under) {
        expect(line.indexOf(name === 'ncc' ? '0.996' : '0.995')).toBe(head.indexOf(name))
      }
    }
  })
})

test('where no terminal reads it, a row is one line', () => {
  expect(table(ROWS)).toHaveLength(3)
})

test('wide characters take two places, and their columns stay columns', () => {
  const lines = table([
    ['plate', 'frames'],
    ['岸壁_壁', '1-9'],
    ['quay', '1-9'],
  ])
  expect(stringWidth(lines[1].slice(0, lines[1].indexOf('1-9')))).toBe(lines[2].indexOf('1-9'))
})

test('a word that is longer than the terminal is wide, such as a path, stays whole', () => {
  const path = `/plates/${'quay'.repeat(20)}`
  expect(table([['plate', `is ${path} there`]], 40).some((line) => line.trim() === path)).toBe(true)
})

test('a line end or a control character in a cell makes no line of its own', () => {
  expect(table([['a\nb\u001b[2J', 'c']])).toEqual(['a\\u000ab\\u001b[2J  c'])
})

test.each([80, 120, Number.POSITIVE_INFINITY])(
  'in %s columns every candidate names the target frame on which it fits worst',
  (columns) => {
    const result = quaysideResult({ candidates: 2, frames: 4 })
    const spoilt = result.candidates.map((c, i) => ({
      ...c,
      frames: c.frames.map((f, k) => ({ ...f, seam: k === 3 - i ? 4 : 1 })),
    }))
    const [head, ...lines] = candidateTable({ ...result, candidates: spoilt }, columns)
      .join('\n')
      .split(/\n(?=\w)/)
    for (const [i, frame] of ['1063', '1062'].entries()) {
      const row = lines[i].split('\n')
      const at = head.split('\n').map((line) => line.indexOf('weakest'))
      const line = at.findIndex((column) => column >= 0)
      expect(row[line].slice(at[line])).toMatch(new RegExp(`^${frame}\\b`))
    }
  },
)

test('a range of one frame has no weakest', () => {
  expect(candidateTable(quaysideResult({ candidates: 1, frames: 1 })).join(' ')).not.toContain('weakest')
})

test('what is proposed for a patch holds up where anything does, and is never what will not hold', () => {
  const [a, b, c] = quaysideResult({ candidates: 3 }).candidates
  const proposed = (...verdicts: (typeof a.verdict)[]) => {
    const candidates = [a, b, c].map((each, i) => ({ ...each, verdict: verdicts[i] }))
    return worthPatching({ ...quaysideResult(), candidates })?.id
  }
  expect(proposed('needs work', 'will not hold', 'holds up')).toBe(c.id)
  expect(proposed('will not hold', 'needs work', 'needs work')).toBe(b.id)
  expect(proposed('will not hold', 'will not hold', 'will not hold')).toBe(undefined)
})
