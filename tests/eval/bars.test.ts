// The table says of made-up cases what can be told of them by hand.
import { describe, expect, test } from 'vitest'
import { type Bar, coverOf, lossOf, passes, rawLossOf, summarise } from './bars.js'
import type { Evaluated, Judged } from './evaluate.js'
import type { Variant } from './motion.js'
import { summaryTable } from './report.js'

const judged = (rest: Partial<Judged>): Judged => ({
  id: 'hold-1',
  kind: 'hold',
  score: 90,
  verdict: 'holds up',
  why: '',
  middle: 40,
  window: 40,
  windowLuminance: 41,
  expected: null,
  seamStep: null,
  label: 'empty',
  clean: 1,
  seam: 1,
  ncc: 1,
  places: [],
  misplaced: false,
  ...rest,
})

function made(oracle: number, candidates: readonly Judged[]): Evaluated {
  const at = { middle: oracle, window: oracle }
  const figures = { oracle: { ...at, donors: [] }, template: { ...at, donor: 1 }, median: at }
  const planted = { variant: 'plain', labels: [], frames: [] }
  const prepared = { folder: '', planted, ...figures } as unknown as Evaluated['prepared']
  return {
    prepared,
    seconds: 1,
    followSeconds: 1,
    candidates,
    offsetErrors: [],
    stopsErrors: [],
    plantedStopsErrors: [],
  }
}

const barOf = (cases: readonly Evaluated[], what: string, variant: Variant = 'plain'): Bar =>
  summarise(variant, cases).bars.find((b) => b.what === what)!

describe('losses', () => {
  test('above 46 dB nothing is lost, and the raw loss stays beside it', () => {
    const e = made(55, [])
    expect(lossOf(e, { middle: 48, window: 44 }, 'middle')).toBe(0)
    expect(lossOf(e, { middle: 48, window: 44 }, 'window')).toBe(2)
    expect(rawLossOf(e, { middle: 48, window: 44 }, 'middle')).toBe(7)
    const bar = barOf([made(55, [judged({ window: 44 })])], 'first, worst loss, window')
    expect([bar.figure, bar.raw]).toEqual([2, 11])
  })

  test('of the first candidate of any kind are the bar, and a case without one is lost', () => {
    const cases = [
      made(42, [judged({ kind: 'stack', window: 41.9 }), judged({ window: 30 })]),
      made(42, [judged({ window: 40.5 })]),
      made(42, [judged({ window: 42.3 })]),
    ]
    expect(barOf(cases, 'first, median loss, window').figure).toBeCloseTo(0.1, 9)
    expect(barOf(cases, 'first, worst loss, window').figure).toBeCloseTo(1.5, 9)
    expect(passes(barOf([...cases, made(42, [])], 'first, worst loss, window'))).toBe(false)
  })

  test('of a plate that is never empty are of the first mosaic, and none is as bad as can be', () => {
    const mosaic = judged({ id: 'mosaic-1', kind: 'mosaic' as Judged['kind'], window: 41 })
    const cases = [made(42, [judged({ window: 20 }), mosaic])]
    expect(barOf(cases, 'mosaic, median loss, window', 'never').figure).toBe(1)
    const seam = "mosaic, step across seams over the truth's, median"
    expect(barOf(cases, seam, 'never').figure).toBeNull()
    const seamy = [made(42, [{ ...mosaic, seamStep: 1.3 }]), made(42, [{ ...mosaic, seamStep: 1.1 }])]
    expect(barOf(seamy, seam, 'never').figure).toBeCloseTo(1.2, 9)
    expect(barOf([made(42, [judged({})])], 'mosaic, median loss, window', 'never').figure).toBe(
      Number.POSITIVE_INFINITY,
    )
  })
})

describe('verdicts', () => {
  const cases = [
    // Won; a second one is called good and is not.
    made(42, [judged({ window: 41 }), judged({ window: 30 })]),
    // What is ranked first is near but not called good.
    made(42, [judged({ window: 41, verdict: 'needs work' }), judged({ window: 41 })]),
    // Called good and far.
    made(42, [judged({ window: 38, label: 'disturbed' })]),
    // Above the cap two pictures are alike.
    made(60, [judged({ window: 44 })]),
  ]

  test('"holds up" counts the candidates that are so called, near or far', () => {
    expect(barOf(cases, '"holds up" within 3 dB, %').figure).toBe(60)
  })

  test('a case is won where the first candidate is near and called good', () => {
    expect(barOf(cases, 'first "holds up" and within 3 dB, % of cases').figure).toBe(50)
    expect(barOf(cases, 'disturbed donor ranked first, cases').figure).toBe(1)
  })
})

describe('intervals', () => {
  const said = (low: number, high: number) => judged({ windowLuminance: 41, expected: { db: 40, low, high } })

  test('hold the truth or miss it on one side', () => {
    expect(coverOf(said(40, 42))).toBe('in')
    expect(coverOf(said(42, 45))).toBe('below')
    expect(coverOf(said(38, 40))).toBe('above')
    expect(coverOf(judged({}))).toBeNull()
  })

  test('are counted for first candidates and for all; without any there is no figure', () => {
    const cases = [made(42, [said(40, 42), said(42, 43)]), made(42, [said(39, 41.5), judged({})])]
    expect(barOf(cases, 'intervals that hold the truth, first, %').figure).toBe(100)
    expect(barOf(cases, 'intervals that hold the truth, all, %').figure).toBeCloseTo(200 / 3, 9)
    expect(barOf([made(42, [judged({})])], 'intervals that hold the truth, all, %').figure).toBeNull()
  })

  test('that hold the truth too often miss the bar as well', () => {
    const bar = barOf([made(42, [said(0, 99)])], 'intervals that hold the truth, first, %')
    expect(passes(bar)).toBe(false)
  })
})

test('each plate has its column, and what a plate lacks is a dash', () => {
  const plain = summarise('plain', [made(42, [judged({ window: 41 })])])
  const reports = [
    { footage: 'plaza', summaries: [plain] },
    { footage: 'road', summaries: [] },
  ]
  const lines = summaryTable(reports).split('\n')
  expect(lines[0].split(/\s{2,}/)).toEqual(['variant', 'figure', 'bar', 'plaza', 'road'])
  expect(lines.find((l) => l.includes('first, worst loss, window'))!.split(/\s{2,}/)).toEqual([
    'plain',
    'first, worst loss, window',
    '<= 2',
    '1',
    '-',
  ])
})

describe('places of a camera that moves', () => {
  test('are RMS over all pairs, and one candidate that holds up a pixel beside its place is one too many', () => {
    const cases = [
      made(40, [
        judged({ places: [0.03, 0.04] }),
        judged({ places: [0.05, 3], misplaced: true }),
        judged({ places: [9], misplaced: true, verdict: 'needs work' }),
        judged({ places: [50], misplaced: true, verdict: 'will not hold' }),
      ]),
    ]
    const figureOf = (what: string) => barOf(cases, what, 'pan').figure
    expect(figureOf('place error, first, px RMS')).toBeCloseTo(Math.sqrt((0.0009 + 0.0016) / 2), 9)
    const all = [0.03, 0.04, 0.05, 3, 9].reduce((sum, px) => sum + px * px, 0)
    expect(figureOf('place error, all that may hold, px RMS')).toBeCloseTo(Math.sqrt(all / 5), 9)
    const wrong = barOf(cases, '"holds up" in a wrong place, candidates', 'pan')
    expect([wrong.figure, passes(wrong)]).toEqual([1, false])
  })

  test('two layers may cost 2 dB in the median where one may cost half a decibel', () => {
    const most = (variant: Variant) =>
      barOf([made(40, [judged({})])], 'first, median loss, window', variant).most
    expect([most('pan'), most('tripod'), most('reframe'), most('handheld')]).toEqual([0.5, 0.5, 0.5, 2])
  })
})
