// How well a moment fits a range. Planted truth: a course whose shares can be added up by hand; and laws of the score.
import { describe, expect, test } from 'vitest'
import { COVERED, LIT, STEADY } from '../../../src/match/light-change.js'
import type { ReferenceTiles } from '../../../src/match/tiles.js'
import type { FrameChange } from '../../../src/search/borrow/changes.js'
import type { EdgeStep } from '../../../src/search/borrow/edge-step.js'
import { type Fit, fitOf, fitScore } from '../../../src/search/borrow/fit.js'
import { fitVerdict } from '../../../src/search/borrow/fit-verdict.js'
import type { FoundMoment } from '../../../src/search/borrow/moments.js'
import { SIDES } from '../../../src/search/mask-edges.js'
import { normal, random } from '../../synthetic.js'
import { evenGrid, evenReference } from './even-reference.js'

const TILES = 12
const range = (from: number, to: number) => Array.from({ length: to - from + 1 }, (_, i) => from + i)

/** Rises by a tenth of its peak per frame from 1041 to 1050 and falls as it rose: 10 peaks' worth in all. */
const course = new Map(range(1041, 1059).map((f) => [f, 0.3 * (1 - Math.abs(f - 1050) / 10)]))
const MOMENT: FoundMoment = {
  start: 1041,
  peak: 1050,
  end: 1059,
  what: 'light',
  sign: 'darker',
  depthStops: 0.6,
  coverage: 0.5,
  surface: 0.9,
  hidesSurface: false,
  lightShare: 1,
  strength: 0.3,
  course,
}

const none = new Float32Array(TILES)
const reference: ReferenceTiles = evenReference(TILES)
const grid = evenGrid(TILES)
const { weight } = grid

/** Frames of plate 0 with a change per tile. */
function measured(
  frames: readonly number[],
  stops: (frame: number, tile: number) => number = () => 0,
  visible: (frame: number) => number = () => 1,
) {
  const changes = new Map<string, FrameChange>()
  for (const frame of frames) {
    const change = Float32Array.from({ length: TILES }, (_, tile) => stops(frame, tile))
    const tiles = { pixels: weight, change, residual: none, cross: none }
    const kind = new Uint8Array(TILES).fill(LIT)
    changes.set(`0:${frame}`, {
      frame,
      tiles,
      kind,
      darker: 0,
      brighter: 0,
      covered: 0,
      visible: visible(frame),
      unseen: 0,
    })
  }
  return { changes, grid, reference }
}
const PLATE = range(1001, 1100)
/** The run that lands the peak on 1010. */
const OFFSET = 40
const fitting = (frames: readonly number[], plate = measured(PLATE)) =>
  fitOf(plate, { frames, like: null, mayLend: () => true }, 0, MOMENT, OFFSET)
const whole: Fit = {
  ...fitting(range(1000, 1020)),
  against: null,
  step: null,
  allRound: { stops: 0, flicker: 0 },
}

describe('a run over a range', () => {
  test('that holds the whole moment begins and ends without it', () => {
    expect(whole).toMatchObject({ atStart: 0, atEnd: 0, missing: [], missingStrength: 0, visible: 1 })
    expect(whole).toMatchObject({ rangeFrames: 21, momentFrames: 19, likeness: null })
  })

  test('says where the range that would hold it leaves the plate, and not of frames that are only unread', () => {
    expect(fitting(range(1005, 1018)).leaves).toBeNull()
    const [first, last] = [1045, 1100]
    const some = measured(range(first, last))
    const of = (isUnread?: () => boolean) =>
      fitOf(some, { frames: range(1005, 1018), like: null, mayLend: () => true, isUnread }, 0, MOMENT, OFFSET)
    expect(of().leaves).toEqual([first, last])
    expect(of(() => true).leaves).toBeNull()
  })

  test('that starts half-way up and ends four fifths down has that share of the peak at its ends', () => {
    const { atStart, atEnd } = fitting(range(1005, 1018))
    expect(atStart).toBeCloseTo(0.5)
    expect(atEnd).toBeCloseTo(0.2)
  })

  test('names the frame on which least is seen, and the one beside the moment that is covered', () => {
    const seen = new Map([
      [1049, 0.8],
      [1055, 0.7],
      [MOMENT.end + 2, 0.4],
      [MOMENT.end + 5, 0],
    ])
    const plate = measured(PLATE, undefined, (frame) => seen.get(frame) ?? 1)
    expect(fitting(range(1000, 1020), plate)).toMatchObject({
      visible: 0.7,
      leastVisible: 1055,
      unseenOfHidden: 0,
      cutAt: MOMENT.end + 2,
    })
    expect(whole.cutAt).toBeNull()
  })

  test('names the frame on which something stands where the light had changed, while it was still strong', () => {
    // Four of twelve tiles are dark; on the next frame a porter stands in three of them, and in no other.
    const strongEnd = { ...MOMENT, end: 1054, course: new Map([...course].filter(([f]) => f <= 1054)) }
    const at = (found: FoundMoment) => {
      const plate = measured(PLATE)
      const kindOn = (frame: number) => plate.changes.get(`0:${frame}`)!.kind
      kindOn(found.end).fill(STEADY, 4)
      kindOn(found.end + 1).fill(COVERED, 0, 3)
      return fitOf(plate, { frames: range(1000, 1020), like: null, mayLend: () => true }, 0, found, OFFSET)
    }
    expect(at(strongEnd).cutAt).toBe(1055)
    const fades = { ...MOMENT, course: new Map([...course, [MOMENT.end, 0.02]]) }
    expect(at(fades).cutAt).toBeNull()
  })

  describe('that the plate has not all frames of', () => {
    const lacking = (lacks: (frame: number) => boolean, frames: readonly number[]) => {
      const there = PLATE.filter((f) => !lacks(f))
      const left = new Map([...course].filter(([f]) => !lacks(f)))
      const inThem = [...left.keys()]
      const found = { ...MOMENT, start: Math.min(...inThem), end: Math.max(...inThem), course: left }
      return fitOf(measured(there), { frames, like: null, mayLend: () => true }, 0, found, OFFSET)
    }

    test('names them, and the share of the change that would fall on them', () => {
      const short = lacking((f) => f > 1053, range(1000, 1020))
      expect(short.missing).toEqual(range(1014, 1020))
      // It rose by a tenth per frame, so it would have faded so: 0.6 + 0.5 + ... + 0.1 of ten.
      expect(short.missingStrength).toBeCloseTo(0.21)
      const early = lacking((f) => f < 1047, range(1000, 1020))
      expect(early.missingStrength).toBeCloseTo(0.21)
    })

    test('loses nothing of the change where it was over by then, however little of it the range takes', () => {
      const gone = lacking((f) => f > 1059, range(1015, 1022))
      expect(gone.missing).toEqual([1020, 1021, 1022])
      expect(gone.missingStrength).toBe(0)
      expect(fitting(range(1015, 1022))).toMatchObject({ missing: [], missingStrength: 0 })
    })

    test('takes a gap for what is round it', () => {
      const gap = lacking((f) => f === 1046 || f === 1047, range(1005, 1012))
      expect(gap.missing).toEqual([1006, 1007])
      // 0.6 and 0.7 of ten.
      expect(gap.missingStrength).toBeCloseTo(0.13)
    })

    test('is not worse for what it leaves out by choice: a frame that is lacking costs its own share', () => {
      const range4 = range(1008, 1011)
      const full = lacking((f) => f === 0, range4)
      const short = lacking((f) => f === 1051, range4)
      expect(full.missingStrength).toBe(0)
      expect(short.missingStrength).toBeCloseTo(0.09)
    })
  })

  test('is as visible as its worst frame within the moment', () => {
    const walked = measured(
      PLATE,
      () => 0,
      (frame) => (frame === 1045 ? 0.8 : frame < 1041 ? 0.1 : 1),
    )
    expect(fitting(range(1000, 1020), walked).visible).toBe(0.8)
  })
})

describe('likeness to a frame', () => {
  const like = { plate: 0, frame: 1080 }
  const likeness = (stops: (frame: number, tile: number) => number) =>
    fitOf(measured(PLATE, stops), { frames: range(1000, 1020), like, mayLend: () => true }, 0, MOMENT, OFFSET)
      .likeness
  const left = (tile: number) => tile < TILES / 2

  test('is 1 for the same change, wherever in the moment it comes', () => {
    expect(likeness((f, tile) => (f === 1080 || f === 1044 ? -0.1 * tile : 0))).toBe(1)
  })
  test('is 0 for a change elsewhere, -1 for its opposite', () => {
    expect(likeness((f, tile) => (left(tile) === (f === 1080) ? -0.5 : 0))).toBe(0)
    expect(likeness((f) => (f === 1080 ? -0.5 : 0.5))).toBe(-1)
  })
  test('is 0 where the frame has no pose', () => {
    const plate = measured(range(1001, 1070), () => -0.5)
    expect(
      fitOf(plate, { frames: range(1000, 1020), like, mayLend: () => true }, 0, MOMENT, OFFSET).likeness,
    ).toBe(0)
  })
})

describe('the score', () => {
  test('is the formula that is documented', () => {
    const m = { ...MOMENT, lightShare: 0.8 }
    const f: Fit = {
      ...whole,
      atStart: 0.5,
      visible: 0.9,
      missing: [1020],
      missingStrength: 0.05,
      likeness: 0.7,
      step: { stops: 0.3, target: 1010, px: 40, sides: ['upper'], atFrameEnd: false, growPx: 12 },
    }
    const lost =
      1.5 * 0.2 +
      0.5 * 0.1 +
      0.2 * 0.5 +
      (0.3 * 1) / 21 +
      2 * 0.05 +
      2 * Math.exp(-0.3 / 0.08) +
      4 * 0.3 +
      0.2 * 0.5
    expect(fitScore(m, f)).toBeCloseTo(30 + 70 * Math.exp(-lost), 1)
    expect(fitScore({ ...m, what: 'object' }, f)).toBeCloseTo(25 * Math.exp(-lost), 1)
  })

  test('of the worst change of light is above that of the best occluder', () => {
    const even = random(5)
    const spread = normal(6)
    let worst = Number.POSITIVE_INFINITY
    let best = 0
    for (let i = 0; i < 500; i++) {
      const m = { ...MOMENT, lightShare: even(), strength: Math.abs(0.2 * spread()) }
      const f: Fit = { ...whole, atStart: even(), atEnd: even(), visible: even(), missingStrength: even() }
      worst = Math.min(worst, fitScore(m, f))
      best = Math.max(best, fitScore({ ...m, what: 'object' }, f))
    }
    expect(best).toBeGreaterThan(15)
    expect(worst).toBeGreaterThan(best)
  })
})

describe('the verdict', () => {
  const step: EdgeStep = { stops: 0.3, target: 1010, px: 40, sides: ['upper'], atFrameEnd: false, growPx: 12 }
  const against = { frame: 1047, share: 0.05, low: 0.6, high: 1.4, always: false }
  const cases: {
    title: string
    m?: Partial<FoundMoment>
    f?: Partial<Fit>
    verdict: string
    says: string
  }[] = [
    { title: 'the whole of a shadow', verdict: 'holds up', says: 'it lasts 19 of the range' },
    { title: 'an occluder', m: { what: 'object' }, verdict: 'will not hold', says: 'no change of light' },
    {
      title: 'a range that begins in it',
      f: { atStart: 0.3 },
      verdict: 'needs work',
      says: 'starts at 30 % of the peak',
    },
    {
      title: 'a range that begins in it, where one that does not lies before the plate',
      f: { atStart: 0.3, unlitEnds: [993, 1016], leaves: [1001, 1100] },
      verdict: 'needs work',
      says: '993-1016 does, and the plate begins at 1001: with its peak 8 frames later it fits',
    },
    {
      title: 'a range that ends in it, where one that does not lies beyond the plate',
      f: { atEnd: 0.3, unlitEnds: [1080, 1101], leaves: [1001, 1100] },
      verdict: 'needs work',
      says: '1080-1101 does, and the plate ends at 1100: with its peak 1 frame earlier it fits',
    },
    {
      title: 'a change that is longer than the plate',
      f: { atEnd: 0.3, unlitEnds: [990, 1110], leaves: [1001, 1100] },
      verdict: 'needs work',
      says: '990-1110 does, which is more than the plate has',
    },
    {
      title: 'a cloud that the whole picture gets darker under',
      f: { allRound: { stops: -0.5, flicker: 0.01 } },
      verdict: 'needs work',
      says: 'the whole picture gets darker by up to 0.50 stops meanwhile, which is not lifted',
    },
    {
      title: 'a shadow that a camera opens its iris for a little',
      f: { allRound: { stops: 0.14, flicker: 0.01 } },
      verdict: 'holds up',
      says: 'unlit at both ends',
    },
    {
      title: 'a shadow under light that flickers, less than it is deep',
      f: { allRound: { stops: 0.2, flicker: 0.1 } },
      verdict: 'holds up',
      says: 'unlit at both ends',
    },
    {
      title: 'a change that is no deeper than the light flickers',
      m: { depthStops: 0.06 },
      f: { allRound: { stops: 0.05, flicker: 0.05 } },
      verdict: 'needs work',
      says: "hardly deeper than the picture's own flicker, 0.05 stops from frame to frame",
    },
    {
      title: 'a change that is there on a single frame',
      f: { momentFrames: 1 },
      verdict: 'needs work',
      says: 'gone again at once',
    },
    {
      title: 'a bare surface',
      m: { surface: null },
      verdict: 'needs work',
      says: 'no texture',
    },
    {
      title: 'a surface whose texture is lost in coding',
      m: { surface: 0.19 },
      verdict: 'holds up',
      says: 'the texture under it correlates at only 0.19, as a faint one does under grain and coding: it is not judged by that',
    },
    {
      title: 'a surface that is plainly the same',
      m: { surface: 0.89 },
      verdict: 'holds up',
      says: 'the surface under it correlates at 0.89; it lasts',
    },
    {
      title: 'somebody in front',
      f: { visible: 0.9 },
      verdict: 'needs work',
      says: 'covers up to 10 % of the region, on frame 1050,',
    },
    {
      title: 'a gleam that clips',
      f: { visible: 0.9, unseenOfHidden: 0.8 },
      verdict: 'needs work',
      says: 'up to 10 % of the region is clipped or beyond the picture, on frame 1050',
    },
    {
      title: 'a change that is half an occluder',
      m: { lightShare: 0.6 },
      verdict: 'will not hold',
      says: 'only 60 % of what changes is light',
    },
    {
      title: 'a shadow that something cuts off while it fades',
      f: { cutAt: 1060 },
      verdict: 'needs work',
      says: 'on frame 1060 something covers the surface and cuts it off',
    },
    {
      title: 'the tail of something',
      f: { cutAt: 1051 },
      verdict: 'will not hold',
      says: 'borders on frame 1051',
    },
    {
      title: 'a bare surface of which most is covered meanwhile',
      m: { surface: null },
      f: { visible: 0.4 },
      verdict: 'will not hold',
      says: 'no texture',
    },
    {
      title: 'the better half beyond the plate',
      f: { missing: [1016], missingStrength: 0.6 },
      verdict: 'will not hold',
      says: 'leaves the plate for 1 of 21 frames, which are left out: 1016',
    },
    {
      title: 'a twentieth that no light can be',
      f: { against },
      verdict: 'needs work',
      says: 'on frame 1047 it would multiply 5 %',
    },
    {
      title: 'a fifth that no light can be',
      f: { against: { ...against, share: 0.2 } },
      verdict: 'will not hold',
      says: 'factors 0.60 to 1.40 where it gets darker',
    },
    {
      title: 'a shadow that the mask cuts off',
      f: { step: { ...step, sides: ['left', 'upper'] } },
      verdict: 'needs work',
      says: "runs on across the mask's left and upper edges and is cut off there, by up to 0.30 stops over 40 px on target frame 1010: grow the mask by 12 px, or feather the patch by as much",
    },
    {
      title: 'one that goes on all round, further than is seen',
      f: { step: { ...step, sides: SIDES, growPx: null } },
      verdict: 'needs work',
      says: "the mask's edge on all sides and is cut off there, by up to 0.30 stops over 40 px on target frame 1010: grow the mask until it holds all of the change",
    },
    {
      title: 'one that ends with the donor’s frame',
      f: { step: { ...step, atFrameEnd: true, growPx: null } },
      verdict: 'needs work',
      says: "the donor's frame ends before the mask's upper edge and cuts the light off, by up to 0.30 stops",
    },
    {
      title: 'a shadow with no step that shows',
      f: { step: { ...step, stops: 0, sides: [] } },
      verdict: 'holds up',
      says: 'unlit at both ends',
    },
  ]
  test.each(cases)('on $title is $verdict', ({ m, f, verdict, says }) => {
    const told = fitVerdict({ ...MOMENT, ...m }, { ...whole, ...f })
    expect(told.verdict).toBe(verdict)
    expect(told.why).toContain(says)
  })
})
