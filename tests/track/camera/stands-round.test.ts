// Does a camera stand, by what lies round the region: planted plates on which most of the frame is filled by something that moves,
// and planted cameras that creep. Truth: the matrices that the plates were planted by.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, test } from 'vitest'
import { openPlate } from '../../../src/footage/plate.js'
import { Workspace } from '../../../src/kernels/workspace.js'
import type { Rect } from '../../../src/raster/rect.js'
import { IDENTITY, shift, type Transform } from '../../../src/raster/transform.js'
import { followCamera } from '../../../src/track/camera/camera.js'
import { moves } from '../../../src/track/camera/probe.js'
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
