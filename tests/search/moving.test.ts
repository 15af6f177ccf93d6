// Searches under cameras that move, and on other takes, against matrices that are known.
import { mkdtempSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { beforeAll, describe, expect, test } from 'vitest'
import { apply, compose, invert, shift, type Transform, transformOf } from '../../src/raster/transform.js'
import { repairFrame } from '../../src/repair/hide/hide-pass.js'
import { openRepair } from '../../src/repair/repair.js'
import { findDonors } from '../../src/search/hide/find.js'
import type { Candidate, Result } from '../../src/search/result.js'
import { type Moving, placeError, plantMoving, turned } from '../moving.js'
import { roughWall } from '../rough-wall.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-moving-'))
const AT = 1015
/** On the wall, where somebody stands on the target frames; its place on frame AT is the mask's. */
const STANDS = { x: 150, y: 80, w: 28, h: 24 }
const isTarget = (index: number) => index >= 12 && index <= 17

/** How far off every lent frame lies over the region, the worst, pixels. */
function worstPlace({ frames }: Candidate, plates: readonly Moving[]): number {
  const errors = frames.flatMap((match) => {
    const toTarget = plates[0].toFrame(match.target)
    const corner = apply(toTarget, STANDS.x, STANDS.y)
    const shares = match.stack ?? match.pieces ?? [{ ...match, frame: match.donor }]
    return shares.map((share) => {
      const truth = compose(toTarget, invert(plates[share.plate].toFrame(share.frame)))
      return placeError(transformOf(share as { dx: number; dy: number; transform?: Transform }), truth, {
        ...STANDS,
        ...corner,
      })
    })
  })
  return Math.max(...errors)
}

function boxAt(plate: Moving) {
  const a = apply(plate.toFrame(AT), STANDS.x, STANDS.y)
  const b = apply(plate.toFrame(AT), STANDS.x + STANDS.w, STANDS.y + STANDS.h)
  const [x, y] = [Math.floor(a.x) - 3, Math.floor(a.y) - 3]
  return { x, y, w: Math.ceil(b.x) + 4 - x, h: Math.ceil(b.y) + 4 - y }
}

async function searched(
  plate: Moving,
  more: Partial<Parameters<typeof findDonors>[0]> = {},
): Promise<Result> {
  return findDonors({ target: plate.folder, frames: '1013-1018', box: boxAt(plate), maskAt: AT, ...more })
}

const CAMERAS: [what: string, model: string, toFrame: (index: number) => Transform][] = [
  ['pans by 3 px a frame', 'shift', (i) => shift(20 - 3 * i, 2 + 0.5 * i)],
  [
    'pans, tilts, rolls and zooms on a tripod',
    'homography',
    (i) =>
      turned({
        pan: 0.12 * Math.sin((i - 15) / 9),
        tilt: 0.05 * Math.cos(i / 7),
        roll: 0.03 * Math.sin(i / 8),
        zoom: 1 + 0.04 * Math.sin(i / 11),
      }),
  ],
]

describe.each(CAMERAS)('under a camera that %s', (_, model, toFrame) => {
  let plate: Moving
  let result: Result
  beforeAll(async () => {
    plate = await plantMoving(join(folder, model), {
      frames: 24,
      toFrame,
      occluder: { ...STANDS, on: isTarget },
    })
    result = await searched(plate)
  }, 120_000)

  test('its motion is called by its name', () => {
    expect(result.camera?.model).toBe(model)
    expect(result.camera?.reference).toBe(AT)
  })

  test('every frame that sees the region lies where the matrices say', () => {
    for (const { frame, pose } of result.camera!.frames) {
      if (pose === null) continue
      const truth = compose(plate.toFrame(AT), invert(plate.toFrame(frame)))
      expect(placeError(pose, truth, boxAt(plate))).toBeLessThan(0.1)
    }
    expect(result.camera!.frames.filter(({ pose }) => pose !== null).length).toBeGreaterThan(16)
  })

  test('the first candidate holds up, from frames far off, to a twentieth of a pixel', () => {
    const [first] = result.candidates
    expect(first.verdict).toBe('holds up')
    expect(worstPlace(first, [plate])).toBeLessThan(0.05)
    expect(first.clean).toBeGreaterThan(0.98)
  })

  test('its patch is the wall and as much grain as the plate has, under a mask that rides along', async () => {
    const [best] = result.candidates
    const job = await openRepair(result)
    for (const match of best.frames) {
      const { rect, alpha, repaired } = await repairFrame(job, best, match)
      const toWall = invert(plate.toFrame(match.target))
      let [sum, n] = [0, 0]
      for (let i = 0; i < alpha.length; i++) {
        if (alpha[i] < 1) continue
        const place = apply(toWall, rect.x + (i % rect.w), rect.y + Math.floor(i / rect.w))
        for (let c = 3 * i; c < 3 * i + 3; c++, n++)
          sum += (repaired.data[c] / 2 ** roughWall(place.x, place.y) - 1) ** 2
      }
      expect(n).toBeGreaterThan(3 * STANDS.w * STANDS.h)
      // Grain is 1 %; measured on neighbours that a tripod has turned a little, it comes out up to an eighth too strong.
      expect(Math.sqrt(sum / n)).toBeGreaterThan(0.009)
      expect(Math.sqrt(sum / n)).toBeLessThan(0.012)
    }
  })

  test('none that holds up lies elsewhere', () => {
    for (const candidate of result.candidates)
      if (candidate.verdict === 'holds up') expect(worstPlace(candidate, [plate])).toBeLessThan(0.1)
  })
})

test('a mask that stays in the frame while the camera moves is asked about', async () => {
  const plate = await plantMoving(join(folder, 'stays'), {
    frames: 12,
    toFrame: (i) => shift(-4 * i, 0),
    occluder: { ...STANDS, x: 80, on: (i) => i === 5 || i === 6 },
  })
  const box = { x: 58, y: 77, w: 36, h: 31 }
  const { warnings } = await findDonors({ target: plate.folder, frames: '1006-1007', box })
  expect(warnings.join(' ')).toMatch(
    /the mask stays where it is in the frame: say on which frame it was drawn/,
  )
  const riding = await findDonors({ target: plate.folder, frames: '1006-1007', box, maskAt: 1006 })
  expect(riding.warnings.join(' ')).not.toMatch(/stays where it is/)
}, 60_000)

describe('another take', () => {
  let target: Moving
  beforeAll(async () => {
    // Somebody stands there for the whole of the first take.
    target = await plantMoving(join(folder, 'take-1'), {
      toFrame: () => shift(0, 0),
      frames: 18,
      occluder: { ...STANDS, on: () => true },
    })
  }, 60_000)

  const takes: [what: string, width: number, height: number, toFrame: Transform][] = [
    [
      'of nearly the same framing, darker and warmer',
      240,
      180,
      compose(shift(14, -9), [0.92, -0.02, 3, 0.02, 0.92, 4, 0, 0, 1]),
    ],
    ['of twice the size', 480, 360, [2.05, 0, -12, 0, 2.05, 9, 0, 0, 1]],
  ]
  for (const [what, width, height, toFrame] of takes) {
    test(`${what} lends to a tenth of a pixel`, async () => {
      const other = await plantMoving(join(folder, `take-${width}`), {
        width,
        height,
        toFrame: () => toFrame,
        frames: 8,
        stops: -0.6,
        tint: [1.15, 1, 0.85],
        start: 5,
      })
      const result = await searched(target, { donors: [other.folder] })
      const [first] = result.candidates
      expect(first.donor).toBe(1)
      expect(worstPlace(first, [target, other])).toBeLessThan(0.1)
      expect(first.frames[0].stops).toBeCloseTo(0.6, 1)
      const [r, , b] = first.frames[0].gain
      expect(Math.log2(r / b)).toBeCloseTo(Math.log2(0.85 / 1.15), 1)
    }, 120_000)
  }

  test('of another place is told from it, and lends nothing', async () => {
    const other = await plantMoving(join(folder, 'elsewhere'), {
      toFrame: () => shift(0, 0),
      width: 320,
      height: 200,
      elsewhere: 7000,
      frames: 6,
    })
    const result = await searched(target, { donors: [other.folder] })
    expect(result.warnings.join(' ')).toMatch(/shows another place/)
    for (const { frames } of result.candidates) for (const { plate } of frames) expect(plate).toBe(0)
  }, 120_000)
})
