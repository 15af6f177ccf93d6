// The strip of a plate. Planted truth: light, movement, a repeated frame and a broken one that the plate was made with.
import { copyFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterAll, beforeAll, expect, test } from 'vitest'
import type { StripFrame } from '../../src/desk/messages.js'
import { LOG_FLOOR } from '../../src/match/log-luminance.js'
import { type Planted, plantPlate } from '../synthetic.js'
import { type Running, runDesk, scratch } from './served.js'

const { folder, remove } = scratch('strip')
const sway = (i: number): [number, number] => [1.5 * i, -2 * (i % 2)]
let desk: Running
let planted: Planted

beforeAll(async () => {
  planted = await plantPlate(join(folder, 'plates', 'quay'), { frames: 10, gaps: [1004], noise: 0.005, sway, stops: (i) => i / 10 }) // biome-ignore format: short
  copyFileSync(planted.pathOf(1006), planted.pathOf(1007))
  writeFileSync(planted.pathOf(1009), 'no picture')
  desk = await runDesk(folder, [planted.folder])
})
afterAll(async () => {
  await desk.close()
  remove()
})

/** What a page that comes now has heard when all frames are known and nothing more comes. */
async function strip(): Promise<Map<number, StripFrame>> {
  const known = new Map<number, StripFrame>()
  const answer = await desk.ask('events')
  const reader = answer.body!.getReader()
  let text = ''
  let next = reader.read()
  for (;;) {
    const quiet = new Promise<null>((resolve) => setTimeout(resolve, 1500, null))
    const part = await Promise.race([next, quiet])
    if (part === null && known.size === planted.frames.length) break
    if (part === null) continue
    if (part.done) throw new Error('the stream ended')
    next = reader.read()
    if (part.value) text += Buffer.from(part.value).toString()
    const messages = text.split('\n\n')
    text = messages.pop()!
    for (const message of messages) {
      const told = message.startsWith('data: ') ? JSON.parse(message.slice(6)) : null
      if (told?.kind !== 'strip') continue
      expect([told.shot, told.plate]).toEqual(['quay', 0])
      for (const frame of told.frames) known.set(frame.frame, frame)
    }
  }
  await reader.cancel()
  return known
}

test('light, movement, repeats and what is broken are those of the plate, and a page that comes late is told all', async () => {
  await desk.ask('shots/quay')
  const frames = await strip()
  const lightOf = (frame: number) => {
    const clean = planted.clean(frame)
    let sum = 0
    for (let i = 0; i < clean.length; i += 3)
      sum += Math.log2(0.2126 * clean[i]! + 0.7152 * clean[i + 1]! + 0.0722 * clean[i + 2]! + LOG_FLOOR)
    return sum / (clean.length / 3)
  }
  expect([...frames.keys()].sort()).toEqual(planted.frames)
  for (const frame of planted.frames) {
    const known = frames.get(frame)!
    if (frame === 1009) {
      expect(known).toMatchObject({ light: null, moved: null, repeats: null })
      expect(known.message).toMatch(/quay\.1009\.png can't be read/)
      continue
    }
    expect(known.message).toBeUndefined()
    // Grain and the 16 bits of its samples are all that it differs by.
    expect(known.light).toBeCloseTo(lightOf(frame === 1007 ? 1006 : frame), 2)
    expect(known.repeats).toBe(frame === 1007 ? 1006 : null)
  }
  const moved = (frame: number) => frames.get(frame)!.moved
  expect([moved(1001), moved(1010)]).toEqual([null, null])
  expect(moved(1007)).toBe(0)
  const truth = (a: number, b: number) =>
    Math.hypot(sway(b - 1001)[0] - sway(a - 1001)[0], sway(b - 1001)[1] - sway(a - 1001)[1])
  // The next frame that is there, also across a gap.
  for (const [a, b] of [
    [1001, 1002],
    [1002, 1003],
    [1003, 1005],
    [1005, 1006],
    [1006, 1008],
  ] as const)
    expect(Math.abs(moved(b)! - truth(a, b))).toBeLessThan(0.1)
  expect(await strip()).toEqual(frames)
})
