// Planted truth: two regions of one plate, each lent from a frame of its own; law: laying two patches over the plate by hand, one
// after the other, is what is written. T. Porter, T. Duff, Compositing Digital Images (1984): over.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { openPlate, readAlpha, readRect } from '../../src/footage/plate.js'
import { frame } from '../../src/raster/frame.js'
import { readBack } from '../../src/repair/hand-over/read-back.js'
import { repairFrame } from '../../src/repair/hide/hide-pass.js'
import { jointOf } from '../../src/repair/joint.js'
import { openRepair } from '../../src/repair/repair.js'
import { composed, type Layer, writeSeveral } from '../../src/repair/several.js'
import { writeSeveralFolder } from '../../src/sheet/several-folder.js'
import { plantPlate } from '../synthetic.js'
import { resultFor } from './job.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-several-'))
afterAll(() => rmSync(root, { recursive: true }))
const FULL = { x: 0, y: 0, w: 160, h: 120 }

let layers: Layer[]
let plate: string
beforeAll(async () => {
  plate = (await plantPlate(join(root, 'plate'), { frames: 12 })).folder
  const layer = async (box: readonly number[], targets: readonly number[], donor: number): Promise<Layer> => {
    const lendings = targets.map((target) => ({ target, donor, gain: [1.1, 1, 0.9] as const }))
    const { result, candidate } = resultFor(plate, lendings, { frames: 12, box })
    return { job: await openRepair(result), candidate }
  }
  // They share a strip eight pixels wide, and the frame 1003.
  layers = [
    await layer([40, 40, 30, 30], [1002, 1003], 1009),
    await layer([62, 44, 30, 30], [1003, 1004], 1011),
  ]
})

/** Both laid over a frame of the plate in linear light, one after the other. */
async function byHand(number: number): Promise<Float32Array> {
  const under = await readRect(await openPlate(plate), number, FULL)
  const out = under.data.slice()
  for (const { job, candidate } of layers) {
    const match = candidate.frames.find((f) => f.target === number)
    if (match === undefined) continue
    const { rect, patch, alpha } = await repairFrame(job, candidate, match, { addGrain: false })
    for (let y = 0, i = 0; y < rect.h; y++)
      for (let x = 0; x < rect.w; x++, i++)
        for (let c = 0; c < 3; c++) {
          const at = 3 * ((rect.y + y) * FULL.w + rect.x + x) + c
          out[at] = alpha[i] * patch.data[3 * i + c] + (1 - alpha[i]) * out[at]
        }
  }
  return out
}

describe('two patches over one plate', () => {
  test('laid over it as one sequence are both, the later on top, and where they meet is told', async () => {
    const out = mkdtempSync(join(root, 'patch-'))
    const { files, overlaps } = await writeSeveral(layers, out, { addGrain: false })
    expect([...files.keys()]).toEqual([1002, 1003, 1004])
    expect(overlaps).toHaveLength(1)
    expect(overlaps[0].frame).toBe(1003)
    // Sixteen columns with both feathers, of the rows that both have.
    expect(overlaps[0].pixels).toBe((8 + 2 * 4) * (26 + 2 * 4))
    const written = await openPlate(out)
    const source = await openPlate(plate)
    for (const number of files.keys()) {
      const [colours, alpha] = [await readRect(written, number, FULL), await readAlpha(written, number, FULL)]
      const under = await readRect(source, number, FULL)
      const wanted = await byHand(number)
      let worst = 0
      for (let i = 0; i < wanted.length; i++) {
        const a = alpha!.data[Math.floor(i / 3)]
        // Beyond the patch's window there is nothing, not black.
        const shown = a === 0 ? under.data[i] : colours.data[i] + (1 - a) * under.data[i]
        worst = Math.max(worst, Math.abs(shown - wanted[i]) / Math.max(0.05, wanted[i]))
      }
      // Halves: eleven bits of colour, and of alpha.
      expect(worst).toBeLessThan(2e-3)
    }
  })

  test('as whole frames are the plate with both laid over', async () => {
    const out = mkdtempSync(join(root, 'whole-'))
    const { files } = await writeSeveral(layers, out, { whole: true, addGrain: false })
    const written = await openPlate(out)
    for (const number of files.keys()) {
      const shown = await readRect(written, number, FULL)
      const wanted = await byHand(number)
      let worst = 0
      for (let i = 0; i < wanted.length; i++)
        worst = Math.max(worst, Math.abs(shown.data[i] - wanted[i]) / Math.max(0.05, wanted[i]))
      expect(worst).toBeLessThan(1e-3)
    }
  })
})

test('a sequence of two is read back as one: each file has what both lay there, and what nobody lends is found', async () => {
  const out = mkdtempSync(join(root, 'folder-'))
  const { joint, patches } = await writeSeveralFolder(out, layers, { addGrain: false })
  const { job } = jointOf(layers)
  expect(await readBack(out, job, joint)).toEqual([])
  expect(joint.donors).toHaveLength(2)
  expect(joint.frames.map(({ lent }) => lent.map((s) => [s.plate, s.frame]))).toEqual([
    [[0, 1009]],
    [
      [0, 1009],
      [1, 1011],
    ],
    [[1, 1011]],
  ])
  expect(patches.map((p) => p.frames.length)).toEqual([2, 2])
  // As if nothing were lent to 1002, its mask black.
  const frames = joint.frames.map((f) => (f.target === 1002 ? { ...f, lent: [] } : f))
  expect(await readBack(out, job, { ...joint, frames })).toEqual([
    'read back, frame 1002: there is something outside the feathered mask',
  ])
})

test('a patch that covers all hides what is below it, and one that covers half shows half', () => {
  const rect = { x: 0, y: 0, w: 1, h: 1 }
  const laid = (value: number, alpha: number) => {
    const patch = frame(1, 1, 3, new Float32Array(3).fill(value))
    return { rect, patch, repaired: patch, alpha: Float32Array.of(alpha) }
  }
  const under = frame(1, 1, 3, new Float32Array(3).fill(4))
  const over = (...made: ReturnType<typeof laid>[]) => {
    const { laid: out, overlap } = composed(made, rect, under)
    return [out.patch.data[0], out.alpha[0], out.repaired.data[0], overlap]
  }
  expect(over(laid(1, 0.5), laid(2, 1))).toEqual([2, 1, 2, 1])
  // 0.5 of 2 over 0.5 of 1: three quarters covered, (1 + 0.25) / 0.75 in colour, and a quarter of the plate's 4.
  const [colour, alpha, shown] = over(laid(1, 0.5), laid(2, 0.5))
  expect(colour).toBeCloseTo(1.25 / 0.75, 6)
  expect(alpha).toBeCloseTo(0.75, 6)
  expect(shown).toBeCloseTo(2.25, 6)
  expect(over()).toEqual([0, 0, 4, 0])
})
