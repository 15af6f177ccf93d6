import { describe, expect, test } from 'vitest'
import { type FrameKey, keyOf } from '../../src/shot/frame-key.js'
import {
  besideTargets,
  firstTargets,
  plateByPlate,
  type Run,
  SpreadOrder,
} from '../../src/track/read-order.js'

const FILES = { streamed: false }
const MOVIE = { streamed: true }
const keysOf = (plate: number, count: number, first = 1001): FrameKey[] =>
  Array.from({ length: count }, (_, i) => ({ plate, frame: first + i }))
const keysIn = (runs: Iterable<Run>): FrameKey[] =>
  [...runs].flatMap(({ plate, frames }) => frames.map((frame) => ({ plate, frame })))
const sorted = (keys: readonly FrameKey[]) => keys.map(keyOf).sort()
/** Frames between neighbours among those that were read, the widest. */
const widest = (frames: readonly number[]) => {
  const order = [...frames].sort((a, b) => a - b)
  return Math.max(...order.slice(1).map((f, i) => f - order[i]))
}

describe('frames in an order that spreads', () => {
  test('are each read once, of one plate or three, of which one is a movie', () => {
    for (const plates of [[FILES], [FILES, MOVIE, FILES], [MOVIE, FILES]]) {
      const keys = plates.flatMap((_, i) => keysOf(i, 37 + 50 * i))
      expect(sorted(keysIn(new SpreadOrder(plates, keys, keysOf(0, 5, 1010))))).toEqual(sorted(keys))
    }
  })

  // The sequence's law: its first 2^k members of 2^m lie 2^(m - k) apart.
  test('lie as far apart as they are few: 2^k of 256 every 2^(8 - k) frames', () => {
    const read = keysIn(new SpreadOrder([FILES], keysOf(0, 256)))
    for (const count of [8, 16, 32, 64, 128]) {
      expect(widest(read.slice(0, count).map((k) => k.frame))).toBe(256 / count)
    }
  })

  test('spread over all plates alike', () => {
    const plates = [FILES, FILES, FILES]
    const keys = plates.flatMap((_, i) => keysOf(i, 100))
    const read = keysIn(new SpreadOrder(plates, keys)).slice(0, 72)
    for (const plate of plates.keys()) {
      const frames = read.filter((k) => k.plate === plate).map((k) => k.frame)
      expect(Math.abs(frames.length - 24)).toBeLessThanOrEqual(2)
      expect(widest(frames)).toBeLessThanOrEqual(8)
    }
  })

  test('begin with those that are named, in turns that ascend', () => {
    const first = firstTargets([1050, 1051, 1052, 1053, 1054, 1055], 3)
    expect(first.map((k) => k.frame)).toEqual([1050, 1052, 1054])
    const runs = [...new SpreadOrder([FILES], keysOf(0, 100), first)]
    expect(runs[0].frames.filter((f) => first.some((k) => k.frame === f))).toEqual([1050, 1052, 1054])
    for (const { frames } of runs) expect(frames).toEqual([...frames].sort((a, b) => a - b))
  })

  test('go out from the target in steps that double, before and after it, and stop at the plate’s ends', () => {
    const plate = Array.from({ length: 60 }, (_, i) => 1001 + i).filter((f) => f !== 1033)
    const beside = besideTargets(plate, [1030, 1031, 1032])
    // Of the 28 frames after it the first is 1034, as 1033 is missing.
    expect(beside.map((k) => k.frame)).toEqual([1029, 1034, 1028, 1035, 1026, 1037, 1022, 1041, 1014, 1049])
    expect(beside.every((k) => k.plate === 0)).toBe(true)
    expect(besideTargets([1030, 1031], [1030, 1031])).toEqual([])
    expect(besideTargets([1030, 1031, 1032], [1030, 1031]).map((k) => k.frame)).toEqual([1032])
  })

  test('take what is wanted soon in turn with what is spread, after what is wanted first', () => {
    const keys = keysOf(0, 256)
    const [first, soon] = [
      keysOf(0, 4, 1100),
      besideTargets(
        keys.map((k) => k.frame),
        [1100, 1101, 1102, 1103],
      ),
    ]
    const read = keysIn(new SpreadOrder([FILES], keys, first, soon))
    expect(sorted(read)).toEqual(sorted(keys))
    const early = read.slice(0, 24).map((k) => k.frame)
    expect(early).toEqual(
      expect.arrayContaining([1099, 1104, 1098, 1105, 1096, 1107, 1092, 1111, 1084, 1119]),
    )
    // Ten of the 24 are spread: a quarter of the plate is never without one, the target's own aside.
    expect(widest([...early, 1001, 1256])).toBeLessThanOrEqual(64)
  })

  test('close in on what is hastened, of what has not been read', () => {
    const keys = keysOf(0, 200)
    const order = new SpreadOrder([FILES], keys)
    const runs = order[Symbol.iterator]()
    const before = [runs.next().value, runs.next().value] as Run[]
    const near = keysOf(0, 8, 1101)
    order.hasten([...near, { plate: 0, frame: 9999 }])
    const next = runs.next().value as Run
    const had = new Set(before.flatMap((run) => run.frames))
    const missing = near.map((k) => k.frame).filter((f) => !had.has(f))
    expect(missing.length).toBeGreaterThan(5)
    expect(next.frames).toEqual(expect.arrayContaining(missing))
    const rest = keysIn({ [Symbol.iterator]: () => runs })
    expect(sorted([...before, next].flatMap((run) => keysIn([run])).concat(rest))).toEqual(sorted(keys))
  })

  test('of a movie come in one go as they lie in it, whatever is hastened', () => {
    const keys = [...keysOf(0, 40), ...keysOf(1, 30)]
    const order = new SpreadOrder([MOVIE, FILES], keys, keysOf(0, 3, 1020))
    order.hasten(keysOf(0, 3, 1030))
    const [movie] = order
    expect(movie).toEqual([...plateByPlate([MOVIE, FILES], keys)][0])
  })
})
