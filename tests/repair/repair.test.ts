import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import fc from 'fast-check'
import { afterAll, describe, expect, test } from 'vitest'
import { Workspace } from '../../src/kernels/workspace.js'
import { frame } from '../../src/raster/frame.js'
import { moveMarks } from '../../src/raster/resample.js'
import { shift, type Transform } from '../../src/raster/transform.js'
import { repairFrame } from '../../src/repair/hide/hide-pass.js'
import { donorRect, hasHoles, lend, lendAsShot } from '../../src/repair/lend.js'
import { over } from '../../src/repair/over.js'
import { openRepair, pick } from '../../src/repair/repair.js'
import { expectRefusal } from '../refusal.js'
import { plantPlate, texturedWall } from '../synthetic.js'
import { BOX, distance, resultFor } from './job.js'

const workspace = new Workspace()

const folder = mkdtempSync(join(tmpdir(), 'offcut-repair-'))
afterAll(() => rmSync(folder, { recursive: true }))

describe('a donor that is moved and lit onto its target', () => {
  test('lies on the wall that the thing in the way hid, sub-pixel offset and light and all', async () => {
    const sway = (i: number): [number, number] =>
      [
        [0, 0],
        [2.37, -1.61],
        [-0.5, 3.25],
      ][i] as [number, number]
    const plate = await plantPlate(join(folder, 'lands'), {
      frames: 3,
      noise: 0,
      wall: texturedWall(8, 10),
      sway,
      stops: (i) => -0.4 * i,
      occluders: (i) => (i === 0 ? [{ x: 62, y: 41, w: 20, h: 25, light: 0.02 }] : []),
    })
    for (const i of [1, 2]) {
      const [dx, dy] = sway(i)
      const g = 2 ** (0.4 * i)
      const { result, candidate } = resultFor(
        plate.folder,
        [{ target: 1001, donor: 1001 + i, dx: -dx, dy: -dy, gain: [g, g, g] }],
        { frames: 3 },
      )
      const job = await openRepair(result)
      const made = await repairFrame(job, candidate, candidate.frames[0], { addGrain: false })
      const truth = plate.clean(1001)
      let worst = 0
      for (let y = 0, k = 0; y < made.rect.h; y++)
        for (let x = 0; x < made.rect.w; x++, k++)
          for (let c = 0; c < 3; c++) {
            const t = truth[3 * ((y + made.rect.y) * 160 + x + made.rect.x) + c]
            worst = Math.max(worst, Math.abs(made.repaired.data[3 * k + c] - t) / t)
          }
      // Planted truth; what is left is Lanczos on waves of 10 px and 16 bits.
      expect(worst).toBeLessThan(0.01)
    }
  })

  test('has each channel’s own gain', async () => {
    const plate = await plantPlate(join(folder, 'gain'), { frames: 2, noise: 0 })
    const { result, candidate } = resultFor(
      plate.folder,
      [{ target: 1001, donor: 1002, gain: [2, 1, 0.5] }],
      { frames: 2 },
    )
    const { donor, patch } = await repairFrame(await openRepair(result), candidate, candidate.frames[0])
    const off = patch.data.map((v, i) => Math.abs(v - donor.data[i] * [2, 1, 0.5][i % 3]))
    expect(Math.max(...off)).toBeLessThan(1e-6)
  })

  test('covers the mask, fades over the feather and leaves the rest of the target bit by bit', async () => {
    const plate = await plantPlate(join(folder, 'feather'), { frames: 2, sway: (i) => [0.4 * i, 0.3 * i] })
    const { result, candidate } = resultFor(
      plate.folder,
      [{ target: 1001, donor: 1002, dx: -0.4, dy: -0.3 }],
      { frames: 2 },
    )
    const job = await openRepair(result)
    for (const featherPx of [0, 1, 6]) {
      const made = await repairFrame(job, candidate, candidate.frames[0], { featherPx })
      const wrong: number[] = []
      for (let y = 0, i = 0; y < made.rect.h; y++)
        for (let x = 0; x < made.rect.w; x++, i++) {
          const d = distance(x + made.rect.x, y + made.rect.y)
          if (Math.abs(made.alpha[i] - Math.max(0, 1 - d / (featherPx + 1))) > 1e-6) wrong.push(i)
          for (let c = 3 * i; c < 3 * i + 3; c++) {
            if (d === 0 && made.repaired.data[c] !== made.patch.data[c]) wrong.push(i)
            if (d > featherPx && made.repaired.data[c] !== made.target.data[c]) wrong.push(i)
          }
        }
      expect(wrong).toEqual([])
    }
  })

  test('moved out of its frame lends nothing there: the target stays, nothing wraps', async () => {
    const plate = await plantPlate(join(folder, 'out'), { frames: 2, noise: 0 })
    const box = [0, 40, 24, 30]
    const { result, candidate } = resultFor(plate.folder, [{ target: 1001, donor: 1002, dx: 10, dy: 0 }], {
      frames: 2,
      box,
    })
    const made = await repairFrame(await openRepair(result), candidate, candidate.frames[0])
    const at = (x: number, y: number) => made.alpha[(y - made.rect.y) * made.rect.w + x - made.rect.x]
    expect([at(0, 50), at(9, 50), at(10, 50), at(20, 50)]).toEqual([0, 0, 1, 1])
    const far = resultFor(plate.folder, [{ target: 1001, donor: 1002, dx: 500, dy: 500 }], { frames: 2 })
    const none = await repairFrame(await openRepair(far.result), far.candidate, far.candidate.frames[0])
    expect(Math.max(...none.alpha)).toBe(0)
    expect(none.repaired.data).toEqual(none.target.data)
  })
})

describe('a stack', () => {
  test('is the weighted mean of its donors, each in its own place and light', async () => {
    const plate = await plantPlate(join(folder, 'stack'), { frames: 5, noise: 0.04, stops: (i) => 0.3 * i })
    const { result, candidate } = resultFor(plate.folder, [{ target: 1001, donor: 1002 }], { frames: 5 })
    const stack = [1, 2, 3, 4].map((i) => {
      const g = 2 ** (-0.3 * i)
      return {
        plate: 0,
        frame: 1001 + i,
        dx: 0,
        dy: 0,
        gain: [g, g, g] as [number, number, number],
        weight: 0.25,
      }
    })
    const match = { ...candidate.frames[0], stack }
    const made = await repairFrame(await openRepair(result), candidate, match)
    const truth = plate.clean(1001)
    let square = 0
    for (let y = 0, k = 0; y < made.rect.h; y++)
      for (let x = 0; x < made.rect.w; x++, k++) {
        const t = truth[3 * ((y + made.rect.y) * 160 + x + made.rect.x) + 1]
        square += (made.patch.data[3 * k + 1] / t - 1) ** 2
      }
    // Four frames of 4 % grain average to 2 %.
    expect(Math.sqrt(square / (made.rect.w * made.rect.h))).toBeCloseTo(0.02, 2)
  })
})

describe('lending', () => {
  const source = (w: number, h: number, value: (i: number) => number) =>
    frame(
      h,
      w,
      3,
      Float32Array.from({ length: 3 * w * h }, (_, i) => value(i)),
    )

  test('never spreads a pixel that is not finite, and marks all that it could have reached', () => {
    const rect = { x: 0, y: 0, w: 30, h: 30 }
    fc.assert(
      fc.property(
        fc.array(fc.tuple(fc.integer({ min: 0, max: 899 }), fc.integer({ min: 0, max: 2 })), {
          maxLength: 5,
        }),
        fc.constantFrom(Number.NaN, Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY),
        fc.double({ min: -4, max: 4, noNaN: true }),
        fc.double({ min: -4, max: 4, noNaN: true }),
        (holes, bad, dx, dy) => {
          const ill = source(30, 30, (i) => 0.2 + 0.1 * Math.sin(i))
          for (const [i, c] of holes) ill.data[3 * i + c] = bad
          const { picture, there } = lend(workspace, ill, rect, { x: 6, y: 6, w: 18, h: 18 }, shift(dx, dy))
          expect(picture.data.every(Number.isFinite)).toBe(true)
          for (const [i] of holes) {
            // Where the hole itself lands nothing can be lent.
            const x = Math.round((i % 30) + dx) - 6
            const y = Math.round(Math.floor(i / 30) + dy) - 6
            if (x >= 0 && x < 18 && y >= 0 && y < 18) expect(there[y * 18 + x]).toBe(0)
          }
          if (holes.length === 0) expect(there.every((t) => t === 1)).toBe(true)
        },
      ),
      { seed: 16, numRuns: 150 },
    )
  })

  test('is said to be there where the nearest pixel of the donor is, whatever the move', () => {
    const rect = { x: 0, y: 0, w: 30, h: 30 }
    const window = { x: 6, y: 5, w: 18, h: 16 }
    const whole = source(30, 30, (i) => i % 7)
    const number = (max: number) => fc.double({ min: -max, max, noNaN: true })
    fc.assert(
      fc.property(
        number(0.3),
        number(0.3),
        number(20),
        number(20),
        number(0.02),
        (turn, grow, dx, dy, lean) => {
          const t: Transform = [1 + grow, turn, dx, -turn, 1 + grow, dy, lean, -lean, 1]
          const { there } = lend(workspace, whole, rect, window, t)
          const wanted = new Uint8Array(there.length)
          moveMarks({ rect, data: new Uint8Array(900).fill(1) }, t, { rect: window, data: wanted })
          expect(there).toEqual(wanted)
        },
      ),
      {
        seed: 31,
        numRuns: 300,
        examples: [
          [0, 0, 0, 0, 0],
          [0, 0, 0.5, -0.5, 0],
          [0, 0, 7, 0, 0],
        ],
      },
    )
  })

  test('by whole pixels gives the donor’s own samples', () => {
    const rect = { x: 0, y: 0, w: 30, h: 30 }
    const whole = source(30, 30, (i) => i)
    const { picture } = lend(workspace, whole, rect, { x: 10, y: 10, w: 4, h: 4 }, shift(3, -2))
    expect(picture.data[0]).toBe(whole.get(12, 7, 0))
    expect(picture.data[3 * 15 + 2]).toBe(whole.get(15, 10, 2))
  })

  test('by whole pixels, where all of it is there, is the donor’s own picture, the same as moved', () => {
    const full = { x: 0, y: 0, w: 60, h: 50 }
    const window = { x: 20, y: 15, w: 12, h: 9 }
    for (const [dx, dy] of [
      [0, 0],
      [5, -7],
    ]) {
      const t = shift(dx, dy)
      const rect = donorRect(window, t, full)
      expect(rect).toEqual({ x: 20 - dx, y: 15 - dy, w: 12, h: 9 })
      const own = source(12, 9, (i) => 0.1 + i)
      const asShot = lendAsShot(workspace, own, rect, window, t)!
      const moved = lend(workspace, own, rect, window, t)
      expect(asShot.picture).toBe(own)
      expect(moved.picture.data).toEqual(own.data)
      expect(asShot.there).toEqual(moved.there)
      expect(hasHoles(asShot.there)).toBe(false)
      own.data[50] = Number.NaN
      expect(lendAsShot(workspace, own, rect, window, t)).toBe(null)
      expect(hasHoles(lend(workspace, own, rect, window, t).there)).toBe(true)
      // Not all of the window, or from elsewhere.
      expect(lendAsShot(workspace, own, { ...rect, x: rect.x + 1 }, window, t)).toBe(null)
    }
    const between = shift(0.5, 0)
    const rect = donorRect(window, between, full)
    const wide = source(rect.w, rect.h, (i) => i)
    expect(lendAsShot(workspace, wide, rect, window, between)).toBe(null)
  })

  test('reads only inside the donor’s frame, at the least one pixel', () => {
    fc.assert(
      fc.property(fc.integer({ min: -300, max: 300 }), fc.integer({ min: -300, max: 300 }), (dx, dy) => {
        const r = donorRect({ x: 100, y: 80, w: 50, h: 30 }, shift(dx + 0.5, dy), {
          x: 0,
          y: 0,
          w: 160,
          h: 120,
        })
        expect(r.x >= 0 && r.y >= 0 && r.w >= 1 && r.h >= 1).toBe(true)
        expect(r.x + r.w <= 160 && r.y + r.h <= 120).toBe(true)
      }),
      { seed: 17 },
    )
  })
})

describe('laying a patch over a picture', () => {
  test('keeps every bit under alpha 0, NaN and negative zero too, and changes neither of the two', () => {
    const under = frame(1, 4, 3, Float32Array.of(Number.NaN, -0, Infinity, 1, 2, 3, 4, 5, 6, 7, 8, 9))
    const patch = frame(1, 4, 3, new Float32Array(12).fill(100))
    const out = over(workspace, patch, Float32Array.of(0, 0, 1, 0.5), under)
    const wanted = [Number.NaN, -0, Infinity, 1, 2, 3, 100, 100, 100, 53.5, 54, 54.5]
    expect(out.data.every((v, i) => Object.is(v, wanted[i]))).toBe(true)
    expect(under.data[6]).toBe(4)
    expect(new Set(patch.data)).toEqual(new Set([100]))
  })
})

describe('picking', () => {
  test('an id that is not there lists those that are', async () => {
    const { result, candidate } = resultFor('plate', [{ target: 1001, donor: 1002 }])
    expect(pick(result, 'relay-1')).toBe(candidate)
    await expectRefusal(() => pick(result, 'hold-9'), {
      code: 'MISUSE',
      exitCode: 2,
      says: ['`pick`', 'relay-1', '"hold-9"'],
    })
    await expectRefusal(() => pick({ ...result, candidates: [] }, 'hold-9'), {
      code: 'MISUSE',
      exitCode: 2,
      says: ['`pick`', 'this result has none', '"hold-9"'],
    })
  })
})

test('footage that changed its size since the search is refused with both sizes', async () => {
  const plate = await plantPlate(join(folder, 'changed'), { width: 80, height: 60, frames: 2 })
  const { result } = resultFor(plate.folder, [{ target: 1001, donor: 1002 }], { frames: 2 })
  await expectRefusal(() => openRepair(result), {
    code: 'PLATE_CHANGED',
    exitCode: 1,
    says: ['quay.####.png', '80 x 60', '160 x 120', 'search again'],
  })
})

test('the region of a result is the region of its repair', async () => {
  const plate = await plantPlate(join(folder, 'region'), { frames: 2 })
  const { result } = resultFor(plate.folder, [{ target: 1001, donor: 1002 }], { frames: 2 })
  const { region } = await openRepair(result)
  const { x, y, w, h } = region.box
  expect([x, y, w, h]).toEqual([...BOX])
  expect(region.surroundPx).toBe(16)
})

describe('a job that is closed', () => {
  test('gives its memory to the next: ten repairs in turn take one', async () => {
    const plate = await plantPlate(join(folder, 'closed'), { frames: 2 })
    const { result, candidate } = resultFor(plate.folder, [{ target: 1001, donor: 1002, dx: 0.5 }], {
      frames: 2,
    })
    const Real = WebAssembly.Memory
    let made = 0
    WebAssembly.Memory = class extends Real {
      constructor(descriptor: WebAssembly.MemoryDescriptor) {
        super(descriptor)
        made++
      }
    }
    try {
      for (let i = 0; i < 10; i++) {
        const job = await openRepair(result)
        await repairFrame(job, candidate, candidate.frames[0])
        job.close()
        await expect(repairFrame(job, candidate, candidate.frames[0])).rejects.toThrow('closed')
      }
    } finally {
      WebAssembly.Memory = Real
    }
    expect(made).toBeLessThanOrEqual(1)
  })
})
