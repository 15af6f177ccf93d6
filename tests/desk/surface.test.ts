// Light of the surface that a borrow hunts on. Planted truth: by how many stops each place of each frame of the plate was lit, and the
// light of its wall as a formula.
import { join } from 'node:path'
import { afterAll, beforeAll, expect, test } from 'vitest'
import type { Message } from '../../src/desk/messages.js'
import type { Asked, Shape } from '../../src/desk/shot-state.js'
import { LOG_FLOOR } from '../../src/match/log-luminance.js'
import { boxOf, type Planted, plantMask, plantPlate } from '../synthetic.js'
import { type Running, runDesk, scratch } from './served.js'

const { folder, remove } = scratch('surface')
/** Three plate pixels to a small one, which the surfaces' edges cut. */
const SIZE = { width: 480, height: 360 }
const HERE = { x: 100, y: 80, w: 71, h: 52 }
const THERE = { x: 301, y: 202, w: 64, h: 80 }
const within = ({ x, y, w, h }: typeof HERE, u: number, v: number) =>
  u >= x && u < x + w && v >= y && v < y + h
const dip = (i: number) => [0, 0, -0.4, -1, -0.5, 0, 0, 0][i]!
const gleam = (i: number) => [0, 0, 0, 0, 0, 0.3, 0.7, 0.2][i]!

let desk: Running
let planted: Planted
beforeAll(async () => {
  planted = await plantPlate(join(folder, 'plates', 'quay'), {
    ...SIZE,
    frames: 8,
    noise: 0.005,
    // Wider than the surfaces, as a small pixel shows more than what of it they cover.
    lit: (i, x, y) =>
      within({ x: 90, y: 70, w: 91, h: 72 }, x, y)
        ? dip(i)
        : within({ x: 291, y: 192, w: 84, h: 100 }, x, y)
          ? gleam(i)
          : 0,
  })
  desk = await runDesk(folder, [planted.folder])
})
afterAll(async () => {
  await desk.close()
  remove()
})

type Surface = Extract<Message, { kind: 'surface' }>

/** What a page that comes now hears until the light of a surface is known on so many frames, or why not. */
async function surface(
  isIt: (told: Surface) => boolean,
  frames = 8,
): Promise<Surface & { lights: Map<number, number | null> }> {
  const reader = (await desk.ask('events')).body!.getReader()
  const lights = new Map<number, number | null>()
  let number = 0
  let text = ''
  for (;;) {
    const part = await reader.read()
    if (part.done) throw new Error('the stream ended')
    text += Buffer.from(part.value).toString()
    const messages = text.split('\n\n')
    text = messages.pop()!
    for (const message of messages) {
      const told = message.startsWith('data: ') ? (JSON.parse(message.slice(6)) as Message) : null
      if (told?.kind !== 'surface') continue
      if (told.surface !== number) lights.clear()
      number = told.surface
      for (const { frame, light } of told.frames) lights.set(frame, light)
      if (isIt(told) && lights.size === frames) {
        await reader.cancel()
        return { ...told, lights }
      }
    }
  }
}

const box = ({ x, y, w, h }: typeof HERE, frame = 1001): Shape => ({
  id: `box-${x}`,
  kind: 'box',
  cut: false,
  keys: [{ frame, points: [[x, y], [x + w, y + h]] }], // biome-ignore format: a rectangle
})
const ask = (asked: Partial<Asked>) => desk.ask('shots/quay', { method: 'PATCH', body: { asked } })

/** Mean of log2 luminance of the wall over a rectangle, without what lights it. */
function wallLight({ x, y, w, h }: typeof HERE): number {
  const clean = planted.clean(1001)
  let sum = 0
  for (let v = y; v < y + h; v++)
    for (let u = x; u < x + w; u++) {
      const i = 3 * (v * SIZE.width + u)
      sum += Math.log2(0.2126 * clean[i]! + 0.7152 * clean[i + 1]! + 0.0722 * clean[i + 2]! + LOG_FLOOR)
    }
  return sum / (w * h)
}

function expectLights(
  lights: ReadonlyMap<number, number | null>,
  where: typeof HERE,
  stops: (i: number) => number,
) {
  expect([...lights.keys()].sort()).toEqual(planted.frames)
  const wall = wallLight(where)
  // A small pixel on the edge counts by what of it is covered, but with the light of all of it: 0.02 stops of this wall's waves.
  for (const [frame, light] of lights) {
    expect(Math.abs(light! - wall - stops(frame - 1001))).toBeLessThan(0.02)
    // What is the same on all frames does not blur by how much it is lit: grain over 400 small pixels, and half floats, remain.
    expect(Math.abs(light! - lights.get(1001)! - stops(frame - 1001))).toBeLessThan(0.005)
  }
}

test('nothing is told while nothing is borrowed; then it is that of the region until a surface to look in is drawn', async () => {
  await desk.ask('shots/quay')
  await ask({ region: { shapes: [box(THERE)], file: null }, frames: '1001-1003' })
  await ask({ aim: 'borrow' })
  const region = await surface(({ of }) => of === 'region')
  expectLights(region.lights, THERE, gleam)
  await ask({ lookIn: { shapes: [box(HERE)], file: null } })
  const lookIn = await surface(({ of }) => of === 'lookIn')
  expect(lookIn.surface).toBeGreaterThan(region.surface)
  expectLights(lookIn.lights, HERE, dip)
})

test('a page that comes late is told the same at once', async () => {
  const [one, other] = [
    await surface(({ of }) => of === 'lookIn'),
    await surface(({ of }) => of === 'lookIn'),
  ]
  expect(other.lights).toEqual(one.lights)
})

test('without a surface to look in, an offset says where from the region it is hunted', async () => {
  const region = { shapes: [box({ ...HERE, x: THERE.x, y: THERE.y })], file: null }
  await ask({ region, lookIn: { shapes: [], file: null }, offset: [THERE.x - HERE.x, THERE.y - HERE.y] })
  const moved = await surface(({ of }) => of === 'region')
  expectLights(moved.lights, HERE, dip)
})

test('a file is as good as a drawing, and one of another size is told of', async () => {
  const file = await plantMask(join(folder, 'here.png'), boxOf(HERE.x, HERE.y, HERE.w, HERE.h), 480, 360)
  await ask({ lookIn: { shapes: [], file }, offset: null })
  expectLights((await surface(({ of }) => of === 'lookIn')).lights, HERE, dip)
  const small = await plantMask(join(folder, 'small.png'), boxOf(10, 10, 20, 20))
  await ask({ lookIn: { shapes: [], file: small } })
  const { message } = await surface((told) => told.message !== undefined, 0)
  expect(message).toMatch(/small\.png is 160 x 120, the plate is 480 x 360/)
})

test('of shapes that move, a surface is where they lie first, the region all that they ever cover', async () => {
  const moving = { ...box(HERE), keys: [{ frame: 1001, points: box(HERE).keys[0]!.points }, { frame: 1003, points: box(THERE).keys[0]!.points }] } // biome-ignore format: two keys
  await ask({ lookIn: { shapes: [moving], file: null } })
  const first = await surface(({ of, message }) => of === 'lookIn' && message === undefined)
  expectLights(first.lights, HERE, dip)
  await ask({
    lookIn: { shapes: [], file: null },
    region: { shapes: [moving], file: null },
    frames: '1001,1003',
  })
  const both = await surface(({ of }) => of === 'region')
  const [a, b] = [HERE.w * HERE.h, THERE.w * THERE.h]
  for (const [frame, light] of both.lights) {
    const stops = (a * dip(frame - 1001) + b * gleam(frame - 1001)) / (a + b)
    expect(Math.abs(light! - both.lights.get(1001)! - stops)).toBeLessThan(0.01)
  }
})
