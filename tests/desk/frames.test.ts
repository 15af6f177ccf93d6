// Pictures of frames. Planted truth: the light of the plate, shown by the transfer function of IEC 61966-2-1 in its own formula,
// exposure and gamma by their definitions.
import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import sharp from 'sharp'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { type Planted, plantPlate } from '../synthetic.js'
import { type Running, runDesk, scratch, startDesk } from './served.js'

const { folder, remove } = scratch('frames')
const WIDTH = 2700
const HEIGHT = 90
let desk: Running
let planted: Planted

beforeAll(async () => {
  planted = await plantPlate(join(folder, 'plates', 'quay'), { width: WIDTH, height: HEIGHT, frames: 5, gaps: [1003], noise: 0, stops: (i) => i / 4 }) // biome-ignore format: short
  writeFileSync(planted.pathOf(1005), 'no picture')
  desk = await runDesk(folder, [planted.folder])
})
afterAll(async () => {
  await desk.close()
  remove()
})

const srgb = (v: number) => (v <= 0.0031308 ? 12.92 * v : 1.055 * v ** (1 / 2.4) - 0.055)
const ask = (frame: number | string, query = '') =>
  desk.ask(`shots/quay/plates/0/frames/${frame}.jpg${query}`)

async function pixels(answer: Response) {
  expect([answer.status, answer.headers.get('content-type')]).toEqual([200, 'image/jpeg'])
  const bytes = Buffer.from(await answer.arrayBuffer())
  const { data, info } = await sharp(bytes).raw().toBuffer({ resolveWithObject: true })
  return { data, width: info.width, height: info.height }
}

/** Codes of means over squares of the plate, as they should be shown. */
function truth(
  frame: number,
  rect: { x: number; y: number; w: number; h: number },
  factor: number,
  stops = 0,
  gamma = 1,
) {
  const light = planted.clean(frame)
  const [w, h] = [Math.floor(rect.w / factor), Math.floor(rect.h / factor)]
  const out = new Float64Array(3 * w * h)
  for (let y = 0; y < h * factor; y++)
    for (let x = 0; x < w * factor; x++)
      for (let c = 0; c < 3; c++) {
        const to = 3 * (Math.floor(y / factor) * w + Math.floor(x / factor)) + c
        out[to] += light[3 * ((rect.y + y) * WIDTH + rect.x + x) + c]! / (factor * factor)
      }
  return out.map((v) => 255 * Math.min(1, Math.max(0, srgb(v * 2 ** stops))) ** (1 / gamma))
}

function rms(a: ArrayLike<number>, b: ArrayLike<number>): number {
  expect(a.length).toBe(b.length)
  let sum = 0
  for (let i = 0; i < a.length; i++) sum += (a[i]! - b[i]!) ** 2
  return Math.sqrt(sum / a.length)
}

const all = { x: 0, y: 0, w: WIDTH, h: HEIGHT }
/** Codes as they come out of a JPEG like those that are sent: what JPEG itself does to such a wall is no fault of the picture. */
async function throughJpeg(codes: Float64Array, width: number): Promise<Buffer> {
  const raw = { width, height: codes.length / 3 / width, channels: 3 } as const
  const bytes = await sharp(Uint8Array.from(codes, Math.round), { raw })
    .jpeg({ quality: 90, chromaSubsampling: '4:4:4' })
    .toBuffer()
  return sharp(bytes).raw().toBuffer()
}

/** Codes; a tenth of a stop would be six. */
const SAME = 1

test('a whole frame comes as its proxy has it: means of light over squares', async () => {
  const shown = await pixels(await ask(1001))
  // Wider than a proxy is, so that all of it is what was asked for.
  expect([shown.width, shown.height]).toEqual([WIDTH, HEIGHT])
  expect(rms(shown.data, await throughJpeg(truth(1001, all, 1), WIDTH))).toBeLessThan(SAME)
  const proxy = await pixels(await ask(1001, '?w=900'))
  expect([proxy.width, proxy.height]).toEqual([900, 30])
  expect(rms(proxy.data, await throughJpeg(truth(1001, all, 3), 900))).toBeLessThan(SAME)
})

test.each([
  [1, 1],
  [-2, 1],
  [0.5, 1.6],
])('exposure %s and gamma %s are what they say', async (e, g) => {
  const shown = await pixels(await ask(1002, `?w=900&e=${e}&g=${g}`))
  expect(rms(shown.data, await throughJpeg(truth(1002, all, 3, e, g), 900))).toBeLessThan(SAME)
  expect(rms(shown.data, await throughJpeg(truth(1002, all, 3, e + 0.1, g), 900))).toBeGreaterThan(2 * SAME)
})

test('a rectangle comes at the plate’s own pixels', async () => {
  const rect = { x: 301, y: 17, w: 64, h: 48 }
  const shown = await pixels(await ask(1001, '?x=301&y=17&cw=64&ch=48&w=640'))
  expect([shown.width, shown.height]).toEqual([64, 48])
  expect(rms(shown.data, await throughJpeg(truth(1001, rect, 1), 64))).toBeLessThan(SAME)
})

test('gaps and broken frames are said in one sentence', async () => {
  const gap = await ask(1003)
  expect([gap.status, (await gap.json()).error]).toMatchObject([
    404,
    { code: 'FRAME_MISSING', message: expect.stringContaining('has no frame 1003') },
  ])
  for (const query of ['?w=900', '?x=0&y=0&cw=10&ch=10']) {
    const broken = await ask(1005, query)
    expect([broken.status, (await broken.json()).error]).toMatchObject([
      500,
      { code: 'FRAME_UNREADABLE', message: expect.stringMatching(/quay\.1005\.png can't be read/) },
    ])
  }
})

test('what is no picture is refused', async () => {
  for (const [frame, query] of [
    ['1001', '?w=0'], ['1001', '?w=1e9'], ['1001', '?e=NaN'], ['1001', '?e=21'], ['1001', '?g=0'], ['1001', '?x=1'], ['1001', '?more=1'],
    ['1001', '?x=0&y=0&cw=99999&ch=1'], ['1001', '?x=0&y=0&cw=0&ch=1'], ['one', ''], ['1001.5', ''],
  ] as const) // biome-ignore format: a table
    expect([frame, query, (await ask(frame, query)).status]).toEqual([frame, query, 400])
  expect((await ask(1001, '?look=/nowhere.cube')).status).toBe(404)
  expect((await desk.ask('shots/quay/plates/1/frames/1001.jpg')).status).toBe(404)
  expect((await desk.ask('shots/other/plates/0/frames/1001.jpg')).status).toBe(404)
})

test('a frame that was rendered anew is shown anew', async () => {
  const before = await pixels(await ask(1004, '?w=900'))
  await sharp({ create: { width: WIDTH, height: HEIGHT, channels: 3, background: '#406080' } }).toColourspace('rgb16').png().toFile(planted.pathOf(1004)) // biome-ignore format: short
  const after = await pixels(await ask(1004, '?w=900'))
  expect(rms(before.data, after.data)).toBeGreaterThan(20)
  expect([...after.data.subarray(0, 3)].map((v, c) => Math.abs(v - [64, 96, 128][c]!) <= 1)).toEqual([
    true,
    true,
    true,
  ])
})

test('threads answer as this one does, also of what went wrong', async () => {
  const started = await startDesk(folder, [planted.folder], join(folder, 'threads'))
  for (const query of [
    '1001.jpg?w=900',
    '1002.jpg?x=301&y=17&cw=64&ch=48&e=1',
    '1005.jpg?w=900',
    '1005.jpg?x=0&y=0&cw=10&ch=10',
    '1001.jpg?look=/nowhere.cube',
  ]) {
    const path = `shots/quay/plates/0/frames/${query}`
    const [here, there] = await Promise.all([desk.ask(path), started.ask(path)])
    expect([query, there.status]).toEqual([query, here.status])
    const bytes = await Promise.all(
      [here, there].map(async (answer) => Buffer.from(await answer.arrayBuffer())),
    )
    expect(bytes[0]!.equals(bytes[1]!)).toBe(true)
  }
  // Many at once, most of whom go away again.
  const gone = new AbortController()
  const scrub = Array.from({ length: 30 }, (_, i) =>
    fetch(`${started.address}shots/quay/plates/0/frames/1002.jpg?w=${300 + i}`, {
      signal: i < 29 ? gone.signal : null,
    }),
  )
  gone.abort()
  expect((await Promise.allSettled(scrub)).filter(({ status }) => status === 'fulfilled')).toHaveLength(1)
  expect((await started.ask('shots')).status).toBe(200)
  expect(await started.interrupt()).toBe(0)
})

test('a whole frame and a rectangle of it show a place where it lies, also of a plate that its proxies do not divide', async () => {
  // Blobs of light, whose middles are the truth. Neither side is whole squares of 3, nor whole pixels at 640 wide.
  const [width, height] = [2699, 1517]
  const middles = [[40.3, 35.8], [1350.2, 760.6], [2650.7, 1470.4]] as const // biome-ignore format: points
  const wall = (x: number, y: number) =>
    0.02 + middles.reduce((sum, [u, v]) => sum + 0.6 * Math.exp(-((x - u) ** 2 + (y - v) ** 2) / 128), 0)
  const blobs = await plantPlate(join(folder, 'blobs'), { width, height, frames: 1, noise: 0, wall })
  const { name } = await (await desk.ask('shots', { method: 'POST', body: { plate: blobs.folder } })).json()
  /** Middle of the light round a place, plate pixels from the corner of the plate's first pixel. */
  const found = async (query: string, [u, v]: readonly [number, number]) => {
    const answer = await desk.ask(`shots/${name}/plates/0/frames/1001.jpg${query}`)
    const [x, y, w, h] = answer.headers.get('Offcut-Rect')!.split(',').map(Number) as [number, number, number, number] // biome-ignore format: one rectangle
    const picture = await pixels(answer)
    const [across, down] = [w / picture.width, h / picture.height]
    let [sum, mx, my] = [0, 0, 0]
    for (let row = 0; row < picture.height; row++)
      for (let column = 0; column < picture.width; column++) {
        const [px, py] = [x + (column + 0.5) * across, y + (row + 0.5) * down]
        if (Math.hypot(px - u, py - v) > 36) continue
        const code = picture.data[3 * (row * picture.width + column)]! / 255
        const light = Math.max(0, (code <= 0.04045 ? code / 12.92 : ((code + 0.055) / 1.055) ** 2.4) - 0.025)
        sum += light
        mx += light * px
        my += light * py
      }
    return [mx / sum, my / sum] as const
  }
  for (const [u, v] of middles) {
    const [left, top] = [Math.max(0, Math.floor(u) - 49), Math.max(0, Math.floor(v) - 50)]
    const size = `cw=${Math.min(101, width - left)}&ch=${Math.min(98, height - top)}`
    // A sample at x is in the middle of a pixel whose corner is at x.
    const truth = [u + 0.5, v + 0.5] as const
    for (const query of [
      '?w=640',
      '?w=840',
      '',
      `?x=${left}&y=${top}&${size}`,
      `?x=${left}&y=${top}&${size}&w=33`,
    ]) {
      const [x, y] = await found(query, truth)
      // A quarter of a plate pixel is a sixteenth of one at 640 wide: 8-bit codes in JPEG.
      expect(Math.abs(x - truth[0])).toBeLessThan(0.25)
      expect(Math.abs(y - truth[1])).toBeLessThan(0.25)
    }
  }
})
