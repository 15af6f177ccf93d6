import { describe, expect, test } from 'vitest'
import { decidedText } from '../../../src/sheet/data/decided-text.js'
import { type Decisions, parseDecisions } from '../../../src/sheet/data/decisions.js'
import { searchFingerprint } from '../../../src/sheet/data/fingerprint.js'
import { quaysideResult } from '../quayside.js'

const good: Decisions = {
  schema: 'offcut.decisions/1',
  search: '0123456789abcdef',
  plate: 'quayside/plate.####.exr',
  first: 1060,
  last: 1069,
  decisions: [
    {
      candidate: 'hold-1184',
      decision: 'accept',
      note: 'left edge',
      initials: 'KL',
      at: '2024-05-02T10:00:00.000Z',
    },
    { candidate: 'run+123', decision: 'reject', note: '', initials: '', at: '2024-05-02T10:01:00.000Z' },
  ],
}

const [first] = good.decisions

describe('a file of decisions', () => {
  test('comes back as it was saved, with a byte order mark as well', () => {
    expect(parseDecisions(JSON.stringify(good))).toEqual(good)
    expect(parseDecisions(`\uFEFF${JSON.stringify(good, null, 2)}\n`)).toEqual(good)
  })

  const cases: { title: string; text: string; code: string; says: RegExp }[] = [
    {
      title: 'no JSON',
      text: '{"schema":',
      code: 'DECISIONS_UNREADABLE',
      says: /^notes\/d\.json is no JSON/,
    },
    {
      title: 'a result instead',
      text: JSON.stringify({ schema: 'offcut.result/1' }),
      code: 'DECISIONS_INVALID',
      says: /^notes\/d\.json is "offcut\.result\/1", not "offcut\.decisions\/1": give the file that the sheet saved$/,
    },
    {
      title: 'a bare list',
      text: '[]',
      code: 'DECISIONS_INVALID',
      says: /has a fault: the file must be of type object/,
    },
    {
      title: 'an unknown decision',
      text: JSON.stringify({ ...good, decisions: [first, { ...first, candidate: 'b', decision: 'maybe' }] }),
      code: 'DECISIONS_INVALID',
      says: /decisions\[1\]\.decision must be one of accept, later, reject/,
    },
    {
      title: 'a candidate decided twice',
      text: JSON.stringify({ ...good, decisions: [first, first] }),
      code: 'DECISIONS_INVALID',
      says: /decide on "hold-1184" twice/,
    },
    {
      title: 'a note of five thousand letters',
      text: JSON.stringify({ ...good, decisions: [{ ...first, note: 'x'.repeat(5000) }] }),
      code: 'DECISIONS_INVALID',
      says: /decisions\[0\]\.note must be no longer than 4000/,
    },
    {
      title: 'an entry nobody knows',
      text: JSON.stringify({ ...good, run: 'rm' }),
      code: 'DECISIONS_INVALID',
      says: /has unknown entries: run/,
    },
    {
      title: 'a time that is none',
      text: JSON.stringify({ ...good, decisions: [{ ...first, at: 'yesterday' }] }),
      code: 'DECISIONS_INVALID',
      says: /decisions\[0\]\.at must be written as a datetime, and is /,
    },
    {
      title: 'decisions that are no list',
      text: JSON.stringify({ ...good, decisions: {} }),
      code: 'DECISIONS_INVALID',
      says: /decisions must be a list/,
    },
  ]
  test.each(cases)('is refused in words: $title', ({ text, code, says }) => {
    expect(() => parseDecisions(text, 'notes/d.json')).toThrow(
      expect.objectContaining({ code, message: expect.stringMatching(says) }),
    )
  })

  test('can not write into a terminal: control characters in a refused file are shown, not sent', () => {
    const text = JSON.stringify({ schema: '\u001b[31mred' })
    expect(() => parseDecisions(text)).toThrow(
      expect.objectContaining({ message: expect.stringContaining('\\u001b[31mred') }),
    )
  })
})

describe('which search decisions belong to', () => {
  test('does not depend on the order of keys, and changes with any number', () => {
    const result = quaysideResult()
    const turned = JSON.parse(JSON.stringify(result), (_, value) =>
      value && typeof value === 'object' && !Array.isArray(value)
        ? Object.fromEntries(Object.entries(value).reverse())
        : value,
    )
    expect(searchFingerprint(turned)).toBe(searchFingerprint(result))
    turned.candidates[3].frames[2].dx += 1e-9
    expect(searchFingerprint(turned)).not.toBe(searchFingerprint(result))
  })
})

describe('a decision in words', () => {
  test.each([
    [first, 'Accepted by KL on 2024-05-02: left edge'],
    [{ ...first, note: '' }, 'Accepted by KL on 2024-05-02'],
    [{ ...first, decision: 'later' as const, initials: '', note: '' }, 'Kept for later on 2024-05-02'],
  ])('%#', (decision, words) => {
    expect(decidedText(decision)).toBe(words)
  })
})
