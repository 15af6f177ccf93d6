// What of a plate is opened at all: on a server every header is a round trip.
import { mkdtempSync, readdirSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import sharp from 'sharp'
import { afterAll, afterEach, beforeAll, expect, test, vi } from 'vitest'
import { openPlate } from '../../src/footage/plate.js'
import { stillReader } from '../../src/footage/stills/reader.js'
import { resultOf, type SearchEvent } from '../../src/search/events.js'
import { hide } from '../../src/search/hide/find.js'
import { openShot } from '../../src/shot/open-shot.js'
import { cacheRoot } from '../../src/track/rect-cache.js'
import { expectRefusal } from '../refusal.js'
import { type Planted, plantPlate } from '../synthetic.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-headers-'))
afterAll(() => rmSync(folder, { recursive: true }))
afterEach(() => vi.restoreAllMocks())

const FRAMES = 64
const ASKED = { frames: '1010-1011', box: { x: 60, y: 40, w: 30, h: 24 }, reach: 4, surround: 12 }
let plate: Planted
beforeAll(async () => {
  plate = await plantPlate(join(folder, 'quay'), { frames: FRAMES, noise: 0.01 })
}, 30_000)

test('a search with few donors reads every frame of the plate once, those whole that tell whether the camera moves', async () => {
  const probed = vi.spyOn(stillReader, 'probe')
  const read = vi.spyOn(stillReader, 'readThrough')
  const shot = await openShot({ ...ASKED, target: plate.folder, donorFrames: '1060-1063' })
  // The plate's size, from its first frame.
  expect(probed).toHaveBeenCalledTimes(1)
  const events: SearchEvent[] = []
  for await (const event of hide(shot)) events.push(event)
  const planned = events.find((e) => e.kind === 'planned')!
  expect(planned.donors.length).toBe(4)
  expect(planned.frames.length).toBe(FRAMES)
  expect(probed).toHaveBeenCalledTimes(1)
  const paths = read.mock.calls.map(([path]) => path)
  // The reference frame's wider rectangle and the search's own are the same one here.
  expect(new Set(paths)).toEqual(new Set(planned.frames.map(({ frame }) => plate.pathOf(frame))))
  expect(paths.length).toBe(planned.frames.length)
}, 20_000)

test('a search that was called off half-way reads only the rest the second time', async () => {
  const half = await plantPlate(join(folder, 'half'), { frames: FRAMES, noise: 0.01 })
  const shot = await openShot({ ...ASKED, target: half.folder })
  const read = vi.spyOn(stillReader, 'readThrough')
  const off = new AbortController()
  const first: number[] = []
  const all = async () => {
    for await (const event of hide(shot, { anytime: true, signal: off.signal })) {
      if (event.kind === 'tracked') first.push(event.frame)
      if (event.kind === 'tracked' && event.done === FRAMES / 2) off.abort(new Error('enough'))
    }
  }
  await expect(all()).rejects.toThrow('enough')
  expect(first.length).toBe(FRAMES / 2)
  // What was decoded when it was called off is still on its way to the disk.
  await vi.waitFor(async () => {
    const kept = readdirSync(cacheRoot(), { recursive: true, encoding: 'utf8' })
    const begun = new Set(read.mock.calls.map(([path]) => path))
    expect(begun.size).toBeLessThan(FRAMES)
    for (const frame of first) expect(kept.some((name) => name.endsWith(`${frame}.half`))).toBe(true)
  })
  read.mockClear()
  const result = await resultOf(hide(shot, {}))
  const again = new Set(read.mock.calls.map(([path]) => path))
  for (const frame of first) expect(again.has(half.pathOf(frame)), `${frame}`).toBe(false)
  expect(again.size).toBeLessThanOrEqual(FRAMES / 2)
  expect(result.candidates.length).toBeGreaterThan(0)
}, 20_000)

test('a header that was read on the way to pixels is not read again for a patch', async () => {
  const opened = await openPlate(plate.folder)
  const probed = vi.spyOn(stillReader, 'probe')
  await opened.source.read(1050, { x: 0, y: 0, w: 4, h: 4 })
  const header = await opened.headerOf(1050)
  expect(header).toMatchObject({ width: 160, height: 120, bitDepth: '16-bit' })
  expect(probed).not.toHaveBeenCalled()
  await opened.headerOf(1051)
  await opened.headerOf(1051)
  expect(probed).toHaveBeenCalledTimes(1)
})

test('a frame of another size ends a search that uses it, by the first of them, and no other search', async () => {
  const odd = await plantPlate(join(folder, 'odd'), { frames: 30, noise: 0.01 })
  for (const frame of [1020, 1024, 1029])
    await sharp({ create: { width: 90, height: 80, channels: 3, background: '#777' } })
      .png()
      .toFile(odd.pathOf(frame))
  const asked = { ...ASKED, target: odd.folder }
  await expectRefusal(async () => resultOf(hide(await openShot(asked))), {
    code: 'FRAME_SIZE',
    exitCode: 1,
    says: [odd.pathOf(1020), '90 x 80', '160 x 120'],
  })
})
