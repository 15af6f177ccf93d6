import { copyFileSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { type Survey, surveyPlate } from '../../src/search/survey.js'
import { type Planted, plantPlate, texturedWall } from '../synthetic.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-survey-'))
afterAll(() => rmSync(folder, { recursive: true }))

describe('a survey of planted footage', () => {
  const NOISE = 0.02
  let plate: Planted
  let survey: Survey
  beforeAll(async () => {
    plate = await plantPlate(join(folder, 'planted'), {
      frames: 14,
      gaps: [1004],
      noise: NOISE,
      stops: (i) => 0.3 * Math.sin(i / 3),
      sway: (i) => [1.6 * Math.sin(i), 1.1 * Math.cos(i * 1.3)],
      occluders: (i) => [{ x: 10 * i, y: 60, w: 14, h: 40, light: 0.13 }],
    })
    for (const f of [1009, 1010]) copyFileSync(plate.pathOf(1008), plate.pathOf(f))
    writeFileSync(plate.pathOf(1013), 'no picture')
    survey = await surveyPlate(plate.folder)
  }, 20_000)

  test('finds its frames, its gap, its repeats and what can not be read', () => {
    expect(survey.plate.frames).toEqual(plate.frames)
    expect(survey.plate.gaps).toEqual([{ first: 1004, last: 1004 }])
    expect(survey.repeated).toEqual([{ first: 1008, last: 1010, frames: 3 }])
    expect(survey.unreadable).toHaveLength(1)
    expect(survey.unreadable[0]).toContain(plate.pathOf(1013))
    expect(survey.frames.map((f) => f.frame)).toEqual(plate.frames.filter((f) => f !== 1013))
  })

  const shot = () => survey.frames.filter(({ frame }) => frame !== 1009 && frame !== 1010)

  test('follows the exposure to 0.02 stops', () => {
    const [a] = shot()
    for (const f of shot())
      expect(Math.abs(f.stops! - a.stops! - (plate.stops(f.frame) - plate.stops(a.frame)))).toBeLessThan(0.02)
  })

  test('follows the camera to 0.05 px', () => {
    const [a] = shot()
    const [ax, ay] = plate.sway(a.frame)
    for (const f of shot()) {
      // The offset moves a frame back onto the middle one, so it runs against the camera's.
      const [x, y] = plate.sway(f.frame)
      expect(Math.abs(f.dx! - a.dx! - (ax - x))).toBeLessThan(0.05)
      expect(Math.abs(f.dy! - a.dy! - (ay - y))).toBeLessThan(0.05)
    }
  })

  test('measures the grain of a soft wall within a tenth', async () => {
    const soft = await plantPlate(join(folder, 'soft'), {
      frames: 3,
      noise: NOISE,
      wall: texturedWall(2, 25),
    })
    const { frames } = await surveyPlate(soft.folder)
    // Planted: independent grain of 2 % of the light per channel; luminance averages it with BT.709's weights (times
    // the wall's tint), and a share s of the light is s / ln 2 stops.
    const parts = [0.2126 * 1.05, 0.7152, 0.0722 * 0.85]
    const share = Math.hypot(...parts) / parts.reduce((a, b) => a + b)
    const planted = (NOISE * share) / Math.LN2
    for (const f of frames) expect(Math.abs(f.grainStops! / planted - 1)).toBeLessThan(0.1)
  })
})

test('a plate of one frame is surveyed', async () => {
  const one = await plantPlate(join(folder, 'one'), { width: 64, height: 48, frames: 1 })
  const survey = await surveyPlate(one.folder)
  expect(survey.frames).toHaveLength(1)
  expect(survey.frames[0]).toMatchObject({ frame: 1001, stops: 0 })
  expect(survey.repeated).toEqual([])
})

test('a frame a few pixels wide has no grain or camera to measure, and no NaN says so', async () => {
  for (const [width, height] of [
    [1, 1],
    [2, 3],
    [9, 7],
  ]) {
    const tiny = await plantPlate(join(folder, `tiny-${width}`), { width, height, frames: 3 })
    for (const f of (await surveyPlate(tiny.folder)).frames) {
      expect(Number.isFinite(f.stops)).toBe(true)
      for (const v of [f.grainStops, f.dx, f.dy]) expect(v === null || Number.isFinite(v)).toBe(true)
    }
  }
})
