// Does a camera move at all: by planted plates, and by what is read of them for it.
import { mkdirSync, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, afterEach, expect, test, vi } from 'vitest'
import { exrReader } from '../../../src/footage/exr/reader.js'
import { openPlate, readRect } from '../../../src/footage/plate.js'
import { writeExr } from '../../../src/footage/write/exr.js'
import { Workspace } from '../../../src/kernels/workspace.js'
import type { Rect } from '../../../src/raster/rect.js'
import { shift, type Transform } from '../../../src/raster/transform.js'
import { moves, standsInStrip } from '../../../src/track/camera/probe.js'
import { trackedRects } from '../../../src/track/frame-tracker.js'
import { plantMoving, turned } from '../../moving.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-probe-'))
const workspace = new Workspace()
afterAll(() => {
  workspace.close()
  rmSync(root, { recursive: true })
})
afterEach(() => vi.restoreAllMocks())

const SIZE = { width: 300, height: 360 }
const FRAMES = 3
const REACH_PX = 4
const window: Rect = { x: 40, y: 40, w: 36, h: 30 }
const turn = (by: Parameters<typeof turned>[0]) => turned(by, SIZE.width, SIZE.height)

async function plant(name: string, toFrame: (index: number) => Transform) {
  const { folder, frames } = await plantMoving(join(root, `${name}-png`), {
    ...SIZE,
    frames: FRAMES,
    toFrame,
  })
  const codes = await openPlate(folder)
  const rect = { x: 0, y: 0, w: SIZE.width, h: SIZE.height }
  mkdirSync(join(root, name))
  for (const frame of frames)
    await writeExr(join(root, name, `quay.${frame}.exr`), await readRect(codes, frame, rect), {
      displayWindow: rect,
    })
  const plate = await openPlate(join(root, name))
  const hidden = { rect: window, bits: new Uint8Array(window.w * window.h).fill(1) }
  return { plates: [plate], reference: frames[1], hidden, window, reachPx: REACH_PX }
}

const keep = trackedRects(window, REACH_PX, { x: 0, y: 0, w: SIZE.width, h: SIZE.height }).rect

test('a camera that stands is known by the rows that a search reads anyway', async () => {
  const still = turn({})
  const atOnce = vi.spyOn(exrReader, 'readHalves')
  const byRows = vi.spyOn(exrReader, 'eachHalves')
  const request = await plant('stands', () => still)
  expect(await moves(workspace, request)).toBe(false)
  const rows = [
    ...atOnce.mock.calls.map(([, { y, h }]) => [y, y + h]),
    ...byRows.mock.calls.map(([, { from = 0, to = SIZE.height }]) => [from, to]),
  ]
  expect(rows).toHaveLength(FRAMES)
  for (const some of rows) expect(some).toEqual([keep.y, keep.y + keep.h])
  expect(keep.h).toBeLessThan(SIZE.height / 2)
}, 30_000)

const CASES = [
  { title: 'pans', toFrame: (i: number) => turn({ pan: 0.02 * i }) },
  { title: 'tilts', toFrame: (i: number) => turn({ tilt: 0.02 * i }) },
  { title: 'zooms', toFrame: (i: number) => turn({ zoom: 1 + 0.06 * i }) },
  { title: 'rolls', toFrame: (i: number) => turn({ roll: 0.03 * i }) },
  { title: 'jumps on one frame', toFrame: (i: number) => (i === 2 ? shift(9, 0) : shift(0, 0)) },
]

test.each(CASES)(
  'a camera that $title is not taken to stand',
  async ({ title, toFrame }) => {
    const request = await plant(title, toFrame)
    expect(await standsInStrip(workspace, request, keep)).toBe(false)
    expect(await moves(workspace, request)).toBe(true)
  },
  30_000,
)
