// Threads start from JavaScript, so this looks at the sources without their types.
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { pathToFileURL } from 'node:url'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type * as PlateModule from '../../src/footage/plate.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { grow } from '../../src/raster/rect.js'
import { boxMask } from '../../src/region/mask.js'
import { makeRegion } from '../../src/region/region.js'
import { type TrackerSetup, trackedRects } from '../../src/track/frame-tracker.js'
import type * as StoreModule from '../../src/track/read-frames.js'
import { SpreadOrder } from '../../src/track/read-order.js'
import type * as TrackModule from '../../src/track/track.js'
import { plantPlate } from '../synthetic.js'
import { transpile } from '../transpile.mjs'

const workspace = new Workspace()

const out = join(process.env.OFFCUT_TRANSPILED!, 'track')
const built = <T>(path: string): Promise<T> => import(pathToFileURL(join(out, 'src', path)).href)
const FRAMES = 20
const folder = mkdtempSync(join(tmpdir(), 'offcut-look-'))
afterAll(() => rmSync(folder, { recursive: true }))

describe('frames followed on several threads', () => {
  let plate: PlateModule.Plate
  let setup: TrackerSetup
  let trackFrames: typeof TrackModule.trackFrames
  let keepAll: typeof StoreModule.keepAll
  const keys = Array.from({ length: FRAMES }, (_, i) => ({ plate: 0, frame: 1001 + i }))

  beforeAll(async () => {
    await transpile(out)
    const planted = await plantPlate(join(folder, 'quay'), {
      frames: FRAMES,
      sway: (f) => [Math.sin(f), Math.cos(2 * f)],
      noise: 0.01,
    })
    // A frame that is cut short: both must name it alike.
    const ill = planted.pathOf(1013)
    writeFileSync(ill, readFileSync(ill).subarray(0, 9000))
    plate = await (await built<typeof PlateModule>('footage/plate.js')).openPlate(planted.folder)
    trackFrames = (await built<typeof TrackModule>('track/track.js')).trackFrames
    const read = await built<typeof StoreModule>('track/read-frames.js')
    keepAll = read.keepAll
    const { window, frames } = makeRegion(
      new Map([[1005, boxMask({ x: 60, y: 40, w: 30, h: 30 }, plate)]]),
      plate,
    )
    const rects = trackedRects(window, 4, { x: 0, y: 0, w: plate.width, h: plate.height })
    const reference = await read.readOneHalf(plate, 1005, rects.rect)
    const mask = frames.get(1005)!
    setup = { reference, rects, keep: grow(window, 4), window, mask, reachPx: 4, clip: [1] }
  })

  test('come out as on one, to the last bit, in order, whatever the order they are read in, with the broken frame named', async () => {
    const one = await keepAll(trackFrames(workspace, [plate], keys, setup, { threads: 1 }))
    const two = await keepAll(trackFrames(workspace, [plate], keys, setup, { threads: 2 }))
    expect(one.frames.map((f) => f.frame)).toEqual(keys.map((k) => k.frame).filter((f) => f !== 1013))
    expect(two.frames).toEqual(one.frames)
    const runs = new SpreadOrder([plate], keys, [keys[7]])
    const spread = await keepAll(trackFrames(workspace, [plate], keys, setup, { threads: 2, runs }))
    expect(spread.frames).toEqual(one.frames)
    for (const { unreadable } of [one, two, spread]) {
      // What libvips says of it may be lost where several threads read at once; which file it was is not.
      expect(unreadable.map((u) => u.frame)).toEqual([1013])
      expect(unreadable[0].message).toContain("quay.1013.png can't be read")
    }
  })

  test('stop with the reason when the search is called off', async () => {
    const calledOff = new AbortController()
    const reason = new Error('enough')
    const running = trackFrames(workspace, [plate], keys, setup, { threads: 2, signal: calledOff.signal })
    await running.next()
    calledOff.abort(reason)
    await expect(keepAll(running)).rejects.toBe(reason)
  })
})
