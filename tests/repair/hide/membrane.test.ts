// Planted truth: one wall in two lights, where what sets them apart is no plane and no surface of second order.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { HidePass } from '../../../src/repair/hide/hide-pass.js'
import { openRepair, type RepairedFrame } from '../../../src/repair/repair.js'
import { type Occluder, type Planted, type PlateOptions, plantPlate } from '../../synthetic.js'
import { BOX, distance, resultFor } from '../job.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-membrane-'))
afterAll(() => rmSync(folder, { recursive: true }))

const FRAMES = 12
const TARGETS = [1001, 1002, 1003]
const AWAY = 6
/** Stops: a slope and a bend of the third order over the region and its surround. */
const light = (x: number, y: number): number => 0.004 * (x - 70) + 0.3 * Math.sin((y - x + 10) / 25)
/** Lit at the donors, not at the targets. */
const uneven = (index: number, x: number, y: number) => (index >= AWAY ? light(x, y) : 0)

async function plant(name: string, options: PlateOptions): Promise<Planted> {
  return plantPlate(join(folder, name), { frames: FRAMES, noise: 0.02, ...options })
}

async function repaired(
  plate: Planted,
  membrane?: boolean,
  targets = TARGETS,
  donor = (target: number) => target + AWAY,
): Promise<RepairedFrame[]> {
  const lendings = targets.map((target) => ({ target, donor: donor(target) }))
  const { result, candidate } = resultFor(plate.folder, lendings, { frames: FRAMES })
  const job = await openRepair(result)
  const pass = new HidePass(job, candidate, { addGrain: false, membrane })
  const made: RepairedFrame[] = []
  for (const match of candidate.frames) made.push(await pass.repair(match))
  job.close()
  return made
}

/** Inside, RMS of green over what is truly there, stops; grain's own share included. */
function errorInside({ rect, patch: { data } }: RepairedFrame, truth: Float32Array): number {
  let [sum, n] = [0, 0]
  for (let y = BOX[1]; y < BOX[1] + BOX[3]; y++)
    for (let x = BOX[0]; x < BOX[0] + BOX[2]; x++, n++)
      sum += Math.log2(lightAt(data, rect, x, y) / truth[3 * (y * 160 + x) + 1]) ** 2
  return Math.sqrt(sum / n)
}

function lightAt(data: Readonly<Float32Array>, rect: RepairedFrame['rect'], x: number, y: number): number {
  return data[3 * ((y - rect.y) * rect.w + x - rect.x) + 1]
}

/** Patch over plate right beside the mask, in means over ten pixels along it, stops: the largest. */
function largestStep({ rect, patch, target }: RepairedFrame): number {
  const places = new Map<string, [number, number]>()
  for (let y = BOX[1] - 5; y < BOX[1] + BOX[3] + 5; y++)
    for (let x = BOX[0] - 5; x < BOX[0] + BOX[2] + 5; x++) {
      const d = distance(x, y)
      if (d < 3 || d > 5) continue
      const place = `${Math.floor(x / 10)} ${Math.floor(y / 10)}`
      const [a, b] = places.get(place) ?? [0, 0]
      places.set(place, [a + lightAt(patch.data, rect, x, y), b + lightAt(target.data, rect, x, y)])
    }
  return Math.max(...[...places.values()].map(([a, b]) => Math.abs(Math.log2(a / b))))
}

/** What the membrane did to a patch: stops at each pixel of the mask. */
function membraneOf(without: RepairedFrame, closed: RepairedFrame): Float64Array {
  const out = new Float64Array(BOX[2] * BOX[3])
  for (let k = 0; k < out.length; k++) {
    const [x, y] = [BOX[0] + (k % BOX[2]), BOX[1] + Math.floor(k / BOX[2])]
    const [after, before] = [closed, without].map(({ patch, rect }) => lightAt(patch.data, rect, x, y))
    out[k] = Math.log2(after / before)
  }
  return out
}

const rms = (values: Float64Array) => Math.sqrt(values.reduce((sum, v) => sum + v * v, 0) / values.length)

describe('a donor in another light than its target, of a shape that no surface of second order holds', () => {
  let plate: Planted
  let without: RepairedFrame[]
  let closed: RepairedFrame[]
  beforeAll(async () => {
    plate = await plant('uneven', { lit: uneven })
    without = await repaired(plate)
    closed = await repaired(plate, true)
  })

  test('comes under the membrane near to what is truly there, and does not step at its border', () => {
    for (const [i, target] of TARGETS.entries()) {
      const truth = plate.clean(target)
      // Grain alone is 0.029 stops.
      expect(errorInside(without[i], truth)).toBeGreaterThan(0.12)
      expect(errorInside(closed[i], truth)).toBeLessThan(0.055)
      expect(largestStep(without[i])).toBeGreaterThan(0.2)
      expect(largestStep(closed[i])).toBeLessThan(0.06)
    }
  })

  test('is lent as it is where nobody asks for the membrane', async () => {
    const off = await repaired(plate, false)
    for (const [i, { patch }] of off.entries()) expect(patch.data).toEqual(without[i].patch.data)
  })

  test('comes out the same whichever frame is repaired first', async () => {
    const lendings = TARGETS.map((target) => ({ target, donor: target + AWAY }))
    const { result, candidate } = resultFor(plate.folder, lendings, { frames: FRAMES })
    const pass = new HidePass(await openRepair(result), candidate, { addGrain: false, membrane: true })
    for (const i of [2, 0]) {
      const { patch } = await pass.repair(candidate.frames[i])
      expect(patch.data).toEqual(closed[i].patch.data)
    }
  })

  test('is the same inside while somebody stands across the border in the target, or in the donor', async () => {
    const passer: Occluder = { x: 76, y: 58, w: 16, h: 40, light: 0.9 }
    // He stands in the first two targets, and in the last two donors.
    const crossed = await plant('crossed', {
      lit: uneven,
      occluders: (i) => (i < 2 || i >= FRAMES - 2 ? [passer] : []),
    })
    for (const targets of [TARGETS.slice(0, 2), [1005, 1006]]) {
      const [bare, spanned] = [
        await repaired(crossed, false, targets),
        await repaired(crossed, true, targets),
      ]
      const [alone, wanted] = [await repaired(plate, false, targets), await repaired(plate, true, targets)]
      for (const i of targets.keys()) {
        const [found, of] = [membraneOf(bare[i], spanned[i]), membraneOf(alone[i], wanted[i])]
        // He is two stops brighter than the wall.
        expect(Math.max(...found.map((v, k) => Math.abs(v - of[k])))).toBeLessThan(0.04)
      }
    }
  })

  test('follows another in another light with a membrane of its own at once', async () => {
    const targets = [1001, 1002, 1003, 1004]
    // The first two frames are lent by neighbours in their own light.
    const made = await repaired(plate, true, targets, (target) => target + (target < 1003 ? 3 : AWAY))
    for (const [i, of] of made.entries()) expect(errorInside(of, plate.clean(targets[i]))).toBeLessThan(0.055)
  })
})

describe('a donor in the light of its target', () => {
  test('is hardly changed by the membrane, and that changes from frame to frame much less than grain does', async () => {
    const targets = [1001, 1002, 1003, 1004, 1005, 1006]
    const plate = await plant('even', {})
    const [without, closed] = [await repaired(plate, false, targets), await repaired(plate, true, targets)]
    const all = targets.map((_, i) => membraneOf(without[i], closed[i]))
    for (const stops of all) expect(Math.max(...stops.map(Math.abs))).toBeLessThan(0.004)
    // Of two frames each has its own.
    const grain = (Math.SQRT2 * 0.02) / Math.LN2
    for (const [i, stops] of all.slice(1).entries())
      expect(rms(stops.map((v, k) => v - all[i][k]))).toBeLessThan(0.02 * grain)
  })
})
