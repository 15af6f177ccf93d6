// What a survey says of a camera that moves, against matrices that are known.
import { mkdtempSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { describe, expect, test } from 'vitest'
import { type Survey, surveyPlate } from '../../src/search/survey.js'
import { plantMoving, turned } from '../moving.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-survey-'))

describe('a survey of a camera on a tripod', () => {
  const PAN = (i: number) => 0.01 * (i - 10)
  const ROLL = (i: number) => (2 * Math.PI * Math.sin(i / 4)) / 180
  const ZOOM = (i: number) => 1 + 0.004 * (i - 10)
  let survey: Survey

  test('tells its model, and every frame’s pan, roll and zoom', async () => {
    const plate = await plantMoving(join(folder, 'tripod'), {
      frames: 20,
      toFrame: (i) => turned({ pan: PAN(i), roll: ROLL(i), zoom: ZOOM(i) }),
    })
    survey = await surveyPlate(plate.folder)
    const { path } = survey
    expect(path?.model).toBe('homography')
    expect(path?.lost).toEqual([])
    expect(path?.cuts).toEqual([])
    expect(path!.views.length).toBe(20)
    for (const { frame, roll, zoom, x } of path!.views) {
      const i = frame - 1001
      // The picture of a camera that rolls is turned against it; the reference is the middle frame.
      expect(roll).toBeCloseTo(((-ROLL(i) + ROLL(10)) * 180) / Math.PI, 1)
      // Seen from the reference frame, what lies off its axis is drawn larger: by 1 / cos(pan) one way, its square the other.
      expect(zoom).toBeCloseTo((ZOOM(i) / ZOOM(10)) * Math.cos(PAN(i) - PAN(10)) ** 1.5, 2)
      // f tan(pan) at the reference's zoom and roll; both are small.
      expect(Math.abs(Math.abs(x) - 300 * ZOOM(10) * Math.tan(Math.abs(PAN(i) - PAN(10))))).toBeLessThan(1)
    }
  }, 60_000)

  test('tells light over the same scenery', () => {
    for (const { stops } of survey.frames) expect(Math.abs(stops!)).toBeLessThan(0.02)
  })
})

test('a cut is named by its first frame, and what lies behind it is not followed', async () => {
  const first = await plantMoving(join(folder, 'cut'), {
    frames: 20,
    toFrame: (i) => [1, 0, 4 * i, 0, 1, 0, 0, 0, 1],
  })
  // The last six frames are of another place; they are written over the first plate's.
  await plantMoving(first.folder, {
    frames: 6,
    first: 1015,
    elsewhere: 9000,
    toFrame: (i) => [1, 0, -2 * i, 0, 1, i, 0, 0, 1],
  })
  const { path, frames } = await surveyPlate(first.folder)
  expect(path?.cuts).toEqual([1015])
  expect(path?.lost).toEqual([1015, 1016, 1017, 1018, 1019, 1020])
  expect(frames.find(({ frame }) => frame === 1016)).toMatchObject({ dx: null, dy: null, stops: null })
}, 60_000)
