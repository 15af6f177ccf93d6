// What the demo says of market day, where no frame is empty all over: the figures it prints, measured again on its files.
// The truth is planted: the scene is rendered again with nobody in it.
import { readFile } from 'node:fs/promises'
import { join } from 'node:path'
import sharp from 'sharp'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { hideOnMarketDay } from '../../src/cli/actions/demo.js'
import { streamIo } from '../../src/cli/io.js'
import { cleanFrame, type MarketTruth } from '../../src/demo/scene.js'
import { repairFrame } from '../../src/repair/hide/hide-pass.js'
import { mapPixels } from '../../src/repair/pieces.js'
import { openRepair, type RepairedFrame } from '../../src/repair/repair.js'
import type { Candidate, Result } from '../../src/search/result.js'
import { readResult } from '../../src/search/result-file.js'
import { type MadeDemo, madeDemo } from '../demo/made.js'
import { linearOf } from '../demo/measure.js'
import { changedBy, NOBODY } from '../demo/nobody.js'
import { moved } from '../resample.js'

let made: MadeDemo
let root: string
/** What the demo printed. */
let said: string
let truth: MarketTruth
let mask: Uint8Array
let result: Result
let best: Candidate
let repaired: RepairedFrame[]

beforeAll(async () => {
  made = await madeDemo('market', async (folder) => {
    let printed = ''
    const stdout = {
      write(text: string) {
        printed += text
      },
    }
    const io = streamIo(stdout, { write: () => true }, new AbortController().signal)
    await hideOnMarketDay(folder, false, io)
    return printed
  })
  root = made.folder
  said = made.said
  truth = JSON.parse(await readFile(join(root, 'footage', 'truth.json'), 'utf8'))
  mask = await sharp(join(root, 'footage', truth.hide.stillMask))
    .toColourspace('b-w')
    .raw()
    .toBuffer()
  result = (await readResult(join(root, 'hide'))).result
  best = result.candidates[0]
  const job = await openRepair(result)
  repaired = []
  for (const match of best.frames) repaired.push(await repairFrame(job, best, match, { addGrain: false }))
  job.close()
}, 240_000)
afterAll(() => made?.remove())

/** Linear light of a rectangle of a plate's frame. */
async function plateRect(number: number, rect: { left: number; top: number; width: number; height: number }) {
  const path = join(root, 'footage', truth.plate.pattern.replace('####', String(number)))
  const raw = await sharp(path).extract(rect).toColourspace('rgb16').raw({ depth: 'ushort' }).toBuffer()
  return { ...rect, data: linearOf(new Uint16Array(raw.buffer, raw.byteOffset, raw.length / 2)) }
}

/** IEC 61966-2-1. */
const display = (v: number) => (v <= 0.0031308 ? 12.92 * v : 1.055 * v ** (1 / 2.4) - 0.055)

/** A figure that the demo printed. */
function told(before: RegExp): number {
  const found = new RegExp(`${before.source} (-?[\\d.]+)`).exec(said)
  expect(found, said).not.toBeNull()
  return Number(found![1])
}

test('no donor alone holds up, a mosaic does, and the demo names its lenders', () => {
  expect(best.kind).toBe('mosaic')
  expect(said).toContain(`(${best.frames[0].pieces!.map(({ frame }) => frame).join(', ')})`)
  expect(best.verdict).toBe('holds up')
  for (const { id, kind, verdict } of result.candidates)
    if (kind !== 'mosaic') expect(verdict, id).toBe('will not hold')
})

test('each piece lends where its donor shows nobody: at most the faint end of a shade, on one pixel in three hundred', () => {
  const { box } = truth.hide
  const { width } = truth.plate
  const shown = new Map(best.frames[0].pieces!.map(({ frame }) => [frame, cleanFrame(truth, frame, {}).data]))
  const empty = new Map([...shown.keys()].map((frame) => [frame, cleanFrame(truth, frame, NOBODY).data]))
  let shaded = 0
  let lent = 0
  for (const { target, pieces, map } of best.frames) {
    const lender = mapPixels(best.map!, map!, box, 1)
    for (let k = 0; k < lender.length; k++) {
      const i = (box.y + Math.floor(k / box.w)) * width + box.x + (k % box.w)
      if (mask[i] === 0) continue
      const { frame, dx, dy } = pieces![lender[k]]
      const from = 3 * (i - Math.round(dy) * width - Math.round(dx)) + 1
      const without = empty.get(frame)![from]
      const off = Math.abs(shown.get(frame)![from] - without) / noiseOf(without, 1)
      expect(off, `${frame} on ${target} at ${i}`).toBeLessThan(5)
      if (off > 1) shaded++
      lent++
    }
  }
  expect(lent).toBeGreaterThan(50_000)
  expect(shaded / lent).toBeLessThan(1 / 300)
})

/** Standard deviation of the noise that the truth states for a light. */
function noiseOf(light: number, channel: number): number {
  return Math.sqrt(truth.noise.perLight[channel] * light + truth.noise.floor[channel])
}

/** What a repair differs by inside the mask, dB: display-encoded, peak 1. `value` is linear light at a plate pixel. */
function psnr(valueOn: (frame: number) => (i: number, channel: number) => number): number {
  let sum = 0
  let count = 0
  for (let frame = truth.hide.first; frame <= truth.hide.last; frame++) {
    const clean = cleanFrame(truth, frame).data
    const value = valueOn(frame)
    for (let i = 0; i < mask.length; i++) {
      if (mask[i] === 0) continue
      for (let c = 0; c < 3; c++) {
        sum += (display(value(i, c)) - display(clean[3 * i + c])) ** 2
        count++
      }
    }
  }
  return -10 * Math.log10(sum / count)
}

function repairedOn(frame: number) {
  const { rect, repaired: made } = repaired[frame - truth.hide.first]
  const { width } = truth.plate
  return (i: number, c: number) => {
    const y = Math.floor(i / width)
    return made.data[3 * ((y - rect.y) * rect.w + i - y * width - rect.x) + c]
  }
}

/**
 * An oracle that knows the scene: every pixel from the nearest frame that shows nobody within a pixel of it, with the true
 * offset, laid down by Lanczos, and the true exposure. Plate-sized pictures of linear light, filled inside the mask.
 */
async function oraclePictures(): Promise<Map<number, Float32Array>> {
  const { width, height } = truth.plate
  const { box } = truth.hide
  // The box with room for the filter and the sway.
  const near = { left: box.x - 8, top: box.y - 8, width: box.w + 16, height: box.h + 16 }
  const plates = new Map<number, Awaited<ReturnType<typeof plateRect>>>()
  const people = new Map<number, Uint8Array>()
  for (const { frame } of truth.frames) {
    plates.set(frame, await plateRect(frame, near))
    people.set(frame, changedBy(truth, frame, {}, NOBODY))
  }
  const inside = [...mask.keys()].filter((i) => mask[i] > 0)
  const around = [-width - 1, -width, -width + 1, -1, 0, 1, width - 1, width, width + 1]
  const out = new Map<number, Float32Array>()
  for (let frame = truth.hide.first; frame <= truth.hide.last; frame++) {
    const to = truth.frames[frame - truth.plate.first]
    const data = new Float32Array(width * height * 3)
    let open = inside
    const nearest = [...plates.keys()].filter((f) => f !== frame)
    nearest.sort((a, b) => Math.abs(a - frame) - Math.abs(b - frame))
    for (const donor of nearest) {
      if (open.length === 0) break
      const from = truth.frames[donor - truth.plate.first]
      const dx = to.dx - from.dx
      const dy = to.dy - from.dy
      const rect = { left: 8, top: 8, width: box.w, height: box.h }
      const laid = moved(plates.get(donor)!, rect, dx, dy, 'lanczos').data
      const gain = 2 ** (to.exposureStops - from.exposureStops)
      const taken = people.get(donor)!
      const covered: number[] = []
      for (const i of open) {
        const at = i - Math.round(dy) * width - Math.round(dx)
        if (around.some((d) => taken[at + d] === 1)) {
          covered.push(i)
          continue
        }
        const k = (Math.floor(i / width) - box.y) * box.w + (i % width) - box.x
        for (let c = 0; c < 3; c++) data[3 * i + c] = gain * laid[3 * k + c]
      }
      open = covered
    }
    expect(open, `frame ${frame}`).toEqual([])
    out.set(frame, data)
  }
  return out
}

test('the repair is within 1.5 dB of the best that one who knows the scene could lend', async () => {
  const oracle = await oraclePictures()
  const made = psnr(repairedOn)
  const known = psnr((frame) => (i, c) => oracle.get(frame)![3 * i + c])
  expect(known - made).toBeLessThan(1.5)
  expect(told(/the repair is/)).toBeCloseTo(made, 1)
}, 120_000)

test('offsets of the pieces are right to a twentieth of a pixel', () => {
  expect(told(/offsets are off by/)).toBeLessThan(0.05)
})

test('along the borders of pieces the picture steps by no more than 1.2 times what grain makes it step', () => {
  const { box } = truth.hide
  const { width } = truth.plate
  let step = 0
  let pairs = 0
  for (const { target, map } of best.frames) {
    const lender = mapPixels(best.map!, map!, box, 1)
    const clean = cleanFrame(truth, target).data
    const shown = repairedOn(target)
    const off = (i: number, c: number) => (shown(i, c) - clean[3 * i + c]) / noiseOf(clean[3 * i + c], c)
    const look = (k: number, other: number) => {
      if (lender[k] === lender[other]) return
      const [i, j] = [k, other].map((at) => (box.y + Math.floor(at / box.w)) * width + box.x + (at % box.w))
      if (mask[i] < 255 || mask[j] < 255) return
      for (let c = 0; c < 3; c++) step += (off(i, c) - off(j, c)) ** 2 / 2
      pairs += 3
    }
    for (let k = 0; k < lender.length; k++) {
      if ((k + 1) % box.w !== 0) look(k, k + 1)
      if (k + box.w < lender.length) look(k, k + box.w)
    }
  }
  expect(pairs).toBeGreaterThan(1000)
  expect(Math.sqrt(step / pairs)).toBeLessThan(1.2)
})
