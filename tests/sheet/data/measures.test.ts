import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import * as z from 'zod'
import { LIMITS, MEASURE_KEYS } from '../../../src/search/measures.js'
import { resultSchema } from '../../../src/search/result.js'
import {
  barRange,
  figures,
  measures,
  plain,
  shownFrame,
  standing,
  weakestFrame,
} from '../../../src/sheet/data/measures.js'
import { donorSpan, idInWords, inWords, offsetSpan, outcome } from '../../../src/sheet/data/words.js'
import { heronResult, quaysideResult } from '../quayside.js'

describe('a number against its limits', () => {
  test('holds up to the limit itself, needs work up to the next, fails beyond, and absent is neither', () => {
    const { holds, works } = LIMITS.seam
    expect(standing('seam', { seam: holds[1] }, 'run')).toBe('holds')
    expect(standing('seam', { seam: holds[1] + 1e-6 }, 'run')).toBe('works')
    expect(standing('seam', { seam: works[1] + 1e-6 }, 'run')).toBe('fails')
    expect(standing('seam', { seam: null }, 'run')).toBe('absent')
  })

  test('a darker donor is as far off as a brighter one', () => {
    const [, most] = LIMITS.stops.holds
    expect(standing('stops', { stops: -most - 0.1 }, 'run')).toBe(
      standing('stops', { stops: most + 0.1 }, 'run'),
    )
  })

  test('life counts against what stands still alone', () => {
    const much = LIMITS.life.works[1] + 1
    for (const still of ['hold', 'stack', 'mosaic'] as const)
      expect(standing('life', { life: much }, still)).toBe('fails')
    expect(standing('life', { life: much }, 'run')).toBe('holds')
  })

  test.each(MEASURE_KEYS)('the bar of %s shows where it stops holding up', (key) => {
    const [low, high] = barRange(key)
    const edges = [...LIMITS[key].holds, ...LIMITS[key].works].filter(Number.isFinite)
    for (const edge of edges) {
      expect(edge).toBeGreaterThanOrEqual(low)
      expect(edge).toBeLessThanOrEqual(high)
    }
    expect(high).toBeGreaterThan(low)
  })
})

describe('figures', () => {
  test.each([
    [0.0001, 2, true, '0.00'],
    [-0.0001, 2, true, '0.00'],
    [-0.126, 2, false, '−0.13'],
    [0.126, 2, true, '+0.13'],
  ])('%f with %i decimals', (value, digits, signed, text) => {
    expect(plain(value, digits, signed)).toBe(text)
  })

  test('an absent number is a dash, one with a unit has it', () => {
    expect(figures('ncc', null)).toBe('–')
    expect(figures('steadiness', 0.05)).toBe('0.050 px')
  })
})

describe('the frame that a row shows', () => {
  const [candidate] = quaysideResult({ frames: 6 }).candidates
  const frames = candidate.frames.map((f) => ({ ...f, seam: 1, ncc: 0.99, clean: 1, expected: 40, stops: 0 }))

  test('is the one nearest to failing, by whichever measure', () => {
    frames[4].seam = LIMITS.seam.holds[1]
    expect(weakestFrame({ frames })).toBe(4)
    frames[2].clean = (LIMITS.clean.holds[0] + LIMITS.clean.works[0]) / 2
    expect(weakestFrame({ frames })).toBe(2)
    frames[1].stops = -2 * LIMITS.stops.works[1]
    expect(weakestFrame({ frames })).toBe(1)
  })

  test('is not told by how a plain wall correlates, where what lies inside is known to be near', () => {
    const plain = candidate.frames.map((f, i) => ({
      ...f,
      clean: i === 5 ? 0.99 : 1,
      stops: 0,
      seam: 0.98,
      ncc: i === 3 ? 0.02 : 0.05,
      expected: 42,
    }))
    expect(weakestFrame({ frames: plain, interval: [41, 47] })).toBe(5)
    expect(weakestFrame({ frames: plain, interval: [31, 47] })).toBe(3)
  })

  test('is one without any number, as nothing vouches for it', () => {
    const blind = frames.map((f, i) =>
      i === 5 ? { ...f, seam: null, ncc: null, clean: null, expected: null, stops: null } : f,
    )
    expect(weakestFrame({ frames: blind })).toBe(5)
  })

  test('of a borrow is the one that the peak lands on', () => {
    const [heron] = heronResult({ frames: 9 }).candidates
    expect(heron.frames[shownFrame(heron)].donor).toBe(heron.moment!.peak)
  })

  test('of a borrow whose lift can be no light is the frame on which it is furthest from it', () => {
    const [heron] = heronResult({ frames: 9 }).candidates
    const worst = heron.frames[1].donor
    const lorry = { ...heron, moment: { ...heron.moment!, worst } }
    expect(lorry.frames[shownFrame(lorry)].donor).toBe(worst)
  })
})

describe('in words', () => {
  const result = quaysideResult({ candidates: 5, frames: 10 })

  test('every kind says what it does', () => {
    expect(result.candidates.map(inWords)).toEqual([
      'frame 1101 held',
      'the same 48 frames later, 1108 to 1117',
      'played backwards, 1124 to 1115',
      'a donor per frame, 1 cut',
      'the mean of 1 donor',
    ])
    const relay = result.candidates[3]
    const both = [{ ...relay.frames[0], frame: 1101, weight: 1 }]
    const last = relay.frames.findIndex((f, i) => i > 0 && f.donor !== relay.frames[i - 1].donor)
    const frames = relay.frames.map((f, i) => (i === last ? { ...f, stack: both } : f))
    expect(inWords({ ...relay, frames } as typeof relay)).toBe('a donor per frame, 1 change, dissolved')
    const run = { ...result.candidates[1], timeOffset: -1 }
    expect(inWords(run)).toMatch(/^the same 1 frame earlier/)
  })

  test('a candidate that is known by its id alone is called as it is when all of it is known', () => {
    for (const kind of ['hold', 'run', 'mirror']) {
      const of = result.candidates.find((c) => c.kind === kind)!
      expect(idInWords(of.id, result)).toBe(inWords(of))
    }
    expect(result.target).toMatchObject({ first: 1060, last: 1069 })
    const cases: [id: string, words: string][] = [
      ['hold-1184', 'frame 1184 held'],
      ['hold--3', 'frame -3 held'],
      ['run+123', 'the same 123 frames later, 1183 to 1192'],
      ['run-45', 'the same 45 frames earlier, 1015 to 1024'],
      ['run+0.p2', 'the same frames, of quayside/take2.####.exr'],
      ['mirror-2251', 'played backwards, 1191 to 1182'],
      ['hold-12.p2', 'frame 12 held, of quayside/take2.####.exr'],
      // What their ids say nothing about.
      ['relay-1', 'relay-1'],
      ['mosaic-1.p2', 'mosaic-1.p2'],
    ]
    for (const [id, words] of cases) expect(idInWords(id, result)).toBe(words)
  })

  test('what walks through is no way to borrow anything', () => {
    const heron = heronResult()
    expect(heron.candidates).toHaveLength(3)
    expect(outcome(heron)).toBe('2 moments hold up over all 9 frames')
    const things = heron.candidates.slice(2)
    expect(outcome({ ...heron, candidates: things })).toBe('No shadow or reflection to borrow was found')
  })

  const verdicts = (held: number, work: number, not: number) => {
    const [like] = result.candidates
    const several = (n: number, verdict: typeof like.verdict) =>
      Array.from({ length: n }, () => ({ ...like, verdict }))
    return [...several(held, 'holds up'), ...several(work, 'needs work'), ...several(not, 'will not hold')]
  }

  test.each([
    [1, 0, 0, 'One way holds up over all 10 frames'],
    [4, 0, 0, '4 ways hold up over all 10 frames'],
    [1, 1, 1, 'One way holds up over all 10 frames, 1 needs work; 1 will not hold'],
    [4, 0, 8, '4 ways hold up over all 10 frames; 8 will not hold'],
    [5, 7, 0, '5 ways hold up over all 10 frames, 7 need work'],
    [0, 1, 0, 'No way holds up as it is, 1 needs work'],
    [0, 3, 8, 'No way holds up as it is, 3 need work; 8 will not hold'],
    [0, 0, 1, 'The one way found will not hold'],
    [0, 0, 8, 'None of the 8 ways found will hold'],
    [0, 0, 0, 'No frame that could lend this region was found'],
  ])('the outcome of %i that hold up, %i that need work, %i that will not hold', (held, work, not, said) => {
    expect(outcome({ ...result, candidates: verdicts(held, work, not) })).toBe(said)
  })

  test('the outcome counts, whatever stands first: the order is by score, not by verdict', () => {
    const turned = verdicts(5, 7, 0).reverse()
    expect(outcome({ ...result, candidates: turned })).toBe('5 ways hold up over all 10 frames, 7 need work')
  })

  test('of a donor plate the frames that were asked for are said, not all that it has', () => {
    const [donor] = result.donors
    expect(donorSpan(donor)).toBe('frames 1001 to 1160')
    expect(donorSpan({ ...donor, asked: [1101, 1102, 1103, 1110] })).toBe(
      '4 of its 160 frames, as asked: 1101-1103, 1110',
    )
    expect(donorSpan({ ...donor, asked: [] })).toBe('none of its 160 frames, as asked')
  })

  test('target frames that nothing fills, as they can’t be read, are not counted among those it holds up over', () => {
    const unread = result.target.frames.slice(3, 5)
    const candidates = verdicts(2, 0, 0).map((c) => ({
      ...c,
      frames: c.frames.filter((f) => !unread.includes(f.target)),
    }))
    expect(outcome({ ...result, candidates })).toBe('2 ways hold up over 8 of 10 frames')
  })

  test('one frame is no range', () => {
    expect(outcome(quaysideResult({ candidates: 1, frames: 1 }))).toBe('One way holds up on the frame')
  })

  test('an offset that stays is one number, one that moves is a span', () => {
    expect(offsetSpan([0.25, 0.25])).toBe('+0.25')
    expect(offsetSpan([-0.4, 0.1, 0.3])).toBe('−0.40 to +0.30')
  })
})

describe('what a number means', () => {
  const readme = readFileSync(new URL('../../../README.md', import.meta.url), 'utf8')
  const schema = z.toJSONSchema(resultSchema) as unknown as {
    properties: { candidates: { items: { properties: Record<string, { description?: string }> } } }
  }

  test.each(measures())('$key: README, schema and sheet say the same', ({ key, label, meaning }) => {
    const [, row] = new RegExp(`^\\| ${label} +\\| (.*?) *\\|$`, 'm').exec(readme) ?? []
    expect(row).toBe(meaning)
    expect(schema.properties.candidates.items.properties[key].description).toBe(meaning)
  })

  test("README's table has every measure once, in the table's order, and none that is gone", () => {
    const [, table] = /\| number +\| meaning[\s\S]*?\n\| dx, dy [^\n]*\n([\s\S]*?)\| score, verdict/.exec(
      readme,
    )!
    const named = [...table.matchAll(/^\| (\S+) +\|/gm)].map((m) => m[1])
    expect(named).toEqual(measures().map(({ label }) => label))
  })
})
