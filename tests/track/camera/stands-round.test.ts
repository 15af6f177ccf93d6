// Does a camera stand, by what lies round the region: planted plates on which most of the frame is filled by something that moves,
// and planted cameras that creep. Truth: the matrices that the plates were planted by.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, test } from 'vitest'
import { openPlate } from '../../../src/footage/plate.js'
import { Workspace } from '../../../src/kernels/workspace.js'
import type { Rect } from '../../../src/raster/rect.js'
import { IDENTITY, shift, shiftOf, type Transform } from '../../../src/raster/transform.js'
import { followCamera } from '../../../src/track/camera/camera.js'
import { type CameraRequest, moves } from '../../../src/track/camera/probe.js'
import { type MovingOptions, plantMoving } from '../../moving.js'
import { roughWall } from '../../rough-wall.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-stands-'))
const workspace = new Workspace()
afterAll(() => {
  workspace.close()
  rmSync(root, { recursive: true })
})

const SIZE = { width: 300, height: 200 }
const FRAMES = 31
const window: Rect = { x: 226, y: 70, w: 50, h: 60 }
/** Somebody stands in the region's middle. */
const hidden = { rect: { x: 240, y: 84, w: 22, h: 32 }, bits: new Uint8Array(22 * 32).fill(1) }

async function plant(name: string, options: Pick<MovingOptions, 'toFrame' | 'shade'>) {
  const { folder, frames } = await plantMoving(join(root, name), { ...SIZE, frames: FRAMES, ...options })
  const plate = await openPlate(folder)
  return { plates: [plate], reference: frames[FRAMES >> 1], hidden, window, reachPx: 4 }
}

async function followed(request: Awaited<ReturnType<typeof plant>>) {
  return (await told(request)).camera
}

async function told(request: CameraRequest) {
  const following = followCamera(workspace, request)
  for (;;) {
    const { done, value } = await following.next()
    if (done) return value
  }
}

/** The side of a lorry, with a pattern of its own, that drives on by `speed` pixels a frame and leaves the right of the frame free. */
const lorry = (speed: number): NonNullable<MovingOptions['shade']> => {
  return (x, y, index) =>
    x < 205 && y > 8 ? roughWall(x - speed * (index - FRAMES / 2) + 900, y + 400) + 1 - roughWall(x, y) : 0
}

test('a lorry that fills most of the frame is followed as a camera by the whole frame, and yet the camera stands', async () => {
  const request = await plant('lorry', { toFrame: () => IDENTITY, shade: lorry(3) })
  expect(await moves(workspace, request)).toBe(true)
  expect(await followed(request)).toBeNull()
}, 60_000)

const CREEPS: [string, (index: number) => Transform][] = [
  ['pans by half a pixel a frame', (i) => shift(-0.5 * i, 0)],
  ['stands and then pans', (i) => shift(i < FRAMES / 2 ? 0 : 1.5 * (i - FRAMES / 2), 0)],
  [
    'zooms about the region by two thousandths a frame',
    (i) => {
      const by = 1 + 0.002 * (i - 15)
      return [by, 0, (1 - by) * 251, 0, by, (1 - by) * 100, 0, 0, 1]
    },
  ],
]
test.each(CREEPS)(
  'a camera that %s does not stand',
  async (name, toFrame) => {
    const request = await plant(name.replaceAll(' ', '-'), { toFrame })
    expect(await moves(workspace, request)).toBe(true)
    const camera = await followed(request)
    expect(camera).not.toBeNull()
  },
  60_000,
)

/** The wall in plain paint, `level` stops light. */
const plain = (x: number, y: number, level: number) => level - roughWall(x, y)
/** A ball of another colour on its way across it, in the frame on the middle frames alone; `after` is added when it has gone. */
const ball = (after: (x: number) => number): NonNullable<MovingOptions['shade']> => {
  return (x, y, index) => {
    const at = index - (FRAMES >> 1)
    if (Math.abs(at) > 5) return plain(x, y, -2.3 + after(x))
    const [u, v] = [x - 90 - 3 * at, y - 110 - 2 * at]
    return Math.hypot(u, v) < 26 ? plain(x, y, -3.5 + roughWall(u + 500, v)) : plain(x, y, -2.3)
  }
}

test('a ball that rolls by a plain wall is followed as a camera and lost when it has gone, and yet the camera stands', async () => {
  const request = await plant('ball', { toFrame: () => IDENTITY, shade: ball(() => 0) })
  expect(await moves(workspace, request)).toBe(true)
  expect(await followed(request)).toBeNull()
}, 60_000)

test('the same is not said where the wall is another when it has gone', async () => {
  const shade = ball((x) => 0.4 * Math.sin(x / 15))
  const request = await plant('ball-elsewhere', { toFrame: () => IDENTITY, shade })
  expect(await moves(workspace, request)).toBe(true)
  expect(await followed(request)).not.toBeNull()
}, 60_000)

test('round a plain region the whole frame tells where the camera looks, though what a codec carried over fits a few frames better', async () => {
  const pan = (index: number) => shift(-0.5 * index, 0)
  const request = await plant('carried', {
    toFrame: pan,
    shade: (x, y, index) => {
      if (x < 195) return 0
      // It lies still in the frame while the wall goes by.
      const u = x - 0.5 * index
      const carried =
        Math.abs(index - (FRAMES >> 1)) <= 3 ? 0.1 * Math.sin(1.9 * u + 0.4 * y) * Math.sin(1.6 * y) : 0
      return plain(x, y, -2.3 + carried)
    },
  })
  const camera = await followed(request)
  expect(camera!.poses.filter(({ pose }) => pose === null)).toEqual([])
  const first = request.plates[0].frames[0]
  for (const { frame, pose } of camera!.poses) {
    const { dx } = shiftOf(pose!, window)
    expect(Math.abs(dx - 0.5 * (frame - first - (FRAMES >> 1)))).toBeLessThan(0.25)
  }
}, 60_000)

test('a take of another place does not make a camera move that stands', async () => {
  const request = await plant('stands', { toFrame: () => IDENTITY })
  const other = await plantMoving(join(root, 'other-place'), {
    ...SIZE,
    frames: 9,
    toFrame: () => IDENTITY,
    elsewhere: 7000,
  })
  const [target] = request.plates
  const { camera, elsewhere } = await told({ ...request, plates: [target, await openPlate(other.folder)] })
  expect(camera).toBeNull()
  expect(elsewhere).toEqual([1])
}, 60_000)
