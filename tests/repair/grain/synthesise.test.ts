// Grain that is measured on planted footage and made again has the strength, the softness, the common share of channels and
// the change from frame to frame that were planted. Straight twins stand beside the quick loops.
import { describe, expect, test } from 'vitest'
import { Workspace } from '../../../src/kernels/workspace.js'
import { frame } from '../../../src/raster/frame.js'
import type { Fit } from '../../../src/repair/grain/fit.js'
import { lackingGrain, lentGrain } from '../../../src/repair/grain/lacking.js'
import { measureGrain } from '../../../src/repair/grain/measure.js'
import type { GrainModel } from '../../../src/repair/grain/model.js'
import { KeptNoise, LastingField, whiteField } from '../../../src/repair/grain/noise-field.js'
import { TileTransform } from '../../../src/repair/grain/spectrum.js'
import { addGrain } from '../../../src/repair/grain/synthesise.js'
import type { StackShare } from '../../../src/search/result.js'
import { correlation, deviation, type GrainOptions, grainy, H, noiseIn, W } from './grainy.js'

const workspace = new Workspace()
const everywhere = new Float32Array(W * H).fill(1)
const WINDOW = { x: 0, y: 0, w: W, h: H }
const light = () => 0.3

function modelOf(options: GrainOptions): GrainModel {
  return measureGrain(workspace, grainy({ light, ...options }), everywhere, 10, true)!
}

const share = (number: number, weight = 1, dx = 0): StackShare => ({
  plate: 0,
  frame: number,
  dx,
  dy: 0,
  gain: [1, 1, 1],
  weight,
})

/** A wall without grain, given all of a model's. */
function made(model: GrainModel, frames: number): Float32Array[][] {
  const numbers = Array.from({ length: frames }, (_, i) => 1001 + i)
  const all: Fit = { stays: everywhere, fresh: everywhere, lasting: everywhere }
  const carried = lackingGrain(model, { kept: new Float64Array(256), renewed: 0 }).carried
  const lasting = [0, 1, 2].map((k) => new LastingField(W * H, 3 + k, numbers, carried))
  // What lasts changes by 1 - carried of itself; what is new on each frame is the rest of the change.
  const change = model.fresh.map((s, k) =>
    s.map((v, i) => Math.max(0, v - (1 - carried) * model.whole[k][i]) / Math.max(1e-9, carried)),
  )
  const absent = model.whole.map((s, k) => s.map((v, i) => v - change[k][i]))
  return numbers.map((number) => {
    const picture = frame(H, W, 3, new Float32Array(W * H * 3).fill(0.3))
    const white = {
      fresh: (k: number) => whiteField(W * H, number, k),
      lasting: (k: number) => lasting[k].at(number),
    }
    addGrain(workspace, picture, model, { change, absent, carried }, white, all)
    return [0, 1, 2].map((c) => noiseIn(picture, c, light))
  })
}

describe('grain that is made', () => {
  test('is as strong as the plate’s, in every channel', () => {
    const level = [0.008, 0.012, 0.02] as const
    const [channels] = made(modelOf({ level }), 1)
    for (const c of [0, 1, 2]) expect(deviation(channels[c]) / (level[c] * Math.sqrt(0.3))).toBeCloseTo(1, 1)
  })

  test.each([
    [0, 0.05],
    [0.8, 0.06],
  ])('has %d of it in common between the channels, as was planted', (common, off) => {
    const [channels] = made(modelOf({ common }), 1)
    expect(Math.abs(correlation(channels[0], channels[2]) - common)).toBeLessThan(off)
  })

  test('is as soft as the plate’s', () => {
    const beside = (values: Readonly<Float32Array>, step: number) =>
      correlation(values.subarray(0, values.length - step), values.subarray(step))
    const [channels] = made(modelOf({ blur: 3 }), 1)
    // The mean of three shares two thirds with its neighbour and nothing with the row below.
    expect(Math.abs(beside(channels[1], 1) - 2 / 3)).toBeLessThan(0.06)
    expect(Math.abs(beside(channels[1], W))).toBeLessThan(0.05)
  })

  test.each([0, 0.7])(
    'changes from frame to frame as the plate’s, of which %d is carried along',
    (carried) => {
      const frames = made(modelOf({ carried, frames: 24 }), 4)
      for (let f = 1; f < frames.length; f++)
        expect(Math.abs(correlation(frames[f][1], frames[f - 1][1]) - carried)).toBeLessThan(0.08)
    },
  )

  test('is the same on the same frame, and another one on every other', () => {
    expect(whiteField(500, 1001, 0)).toEqual(whiteField(500, 1001, 0))
    expect(Math.abs(correlation(whiteField(9000, 1001, 0), whiteField(9000, 1002, 0)))).toBeLessThan(0.04)
    expect(Math.abs(correlation(whiteField(9000, 1001, 0), whiteField(9000, 1001, 1)))).toBeLessThan(0.04)
    const numbers = [1001, 1002, 1003, 1004]
    const inOrder = new LastingField(50, 3, numbers, 0.6)
    for (const n of [1001, 1002]) inOrder.at(n)
    const third = inOrder.at(1003).slice()
    const alone = new LastingField(50, 3, numbers, 0.6)
    alone.at(1004)
    expect(alone.at(1003)).toEqual(third)
    // Candidates that share what is kept ask in any order; nothing that was handed out is written over.
    const shared = new KeptNoise()
    const fields = [1, 2].map(() => new LastingField(50, 3, numbers, 0.6, shared))
    const early = fields[0].at(1002)
    const copy = early.slice()
    expect(fields[1].at(1003)).toEqual(third)
    expect(fields[0].at(1004)).toEqual(alone.at(1004))
    expect(early).toEqual(copy)
  })

  test('under a filter is the straight sum of taps', () => {
    const spectrum = Float64Array.from({ length: 256 }, (_, i) => 1 / (1 + Math.min(i % 16, 16 - (i % 16))))
    const { radius, weights } = new TileTransform().filterOf(spectrum)
    const squares = weights.reduce((sum, w) => sum + w * w, 0)
    expect(squares).toBeCloseTo(spectrum.reduce((sum, v) => sum + v, 0) / 256, 5)
    const model: GrainModel = {
      level: [1, 1, 1],
      power: [0, 0, 0],
      where: null,
      mix: Float64Array.of(1, 0, 0, 0, 1, 0, 0, 0, 1),
      whole: [spectrum, spectrum, spectrum],
      fresh: [spectrum, spectrum, spectrum],
      changes: null,
    }
    const white = whiteField(13 * 9, 7, 0)
    const picture = frame(9, 13, 3)
    const some = Float32Array.from({ length: 117 }, (_, i) => (i % 5) / 4)
    const none = new Float32Array(117)
    addGrain(
      workspace,
      picture,
      model,
      { change: model.fresh, absent: [0, 1, 2].map(() => new Float64Array(256)), carried: 0 },
      { fresh: () => white, lasting: () => white },
      { stays: none, fresh: some, lasting: none },
    )
    const side = 2 * radius + 1
    const around = (v: number, n: number) => ((v % n) + n) % n
    for (let y = 0; y < 9; y++)
      for (let x = 0; x < 13; x++) {
        let sum = 0
        for (let v = -radius; v <= radius; v++)
          for (let u = -radius; u <= radius; u++)
            sum +=
              weights[(v + radius) * side + u + radius] * white[around(y + v, 9) * 13 + around(x + u, 13)]
        expect(picture.data[3 * (13 * y + x) + 1]).toBeCloseTo(sum * some[13 * y + x], 5)
      }
  })
})

describe('what lent pixels lack', () => {
  const model = modelOf({})

  test('is nothing for a donor that lies pixel on pixel and is another one on each frame', () => {
    const lent = lentGrain(model, [share(1040)], [share(1039)], WINDOW, 1)
    const { change, absent } = lackingGrain(model, lent)
    expect(lent.renewed).toBe(1)
    for (const spectra of [change, absent]) for (const s of spectra) expect(Math.max(...s)).toBeLessThan(1e-9)
  })

  test('of a held frame is all that changes, and nothing of what is there', () => {
    const { change, absent } = lackingGrain(model, lentGrain(model, [share(1040)], [share(1040)], WINDOW, 1))
    expect(change).toEqual(model.fresh)
    for (const s of absent) expect(Math.max(...s)).toBeLessThan(1e-9)
  })

  test('of four far frames averaged is three quarters', () => {
    const four = [1040, 1060, 1080, 1100].map((f) => share(f, 0.25))
    const { kept } = lentGrain(model, four, undefined, WINDOW, 1)
    for (const v of kept) expect(v).toBeCloseTo(0.25, 1)
  })

  test('of four frames in a row of a codec that carries grain along is less', () => {
    const lasting = modelOf({ carried: 0.8, frames: 24 })
    const kept = (numbers: readonly number[]) => {
      const lent = lentGrain(
        lasting,
        numbers.map((f) => share(f, 0.25)),
        undefined,
        WINDOW,
        1,
      )
      return lent.kept.reduce((sum, v) => sum + v, 0) / 256
    }
    // (4 + 6 c + 4 c^2 + 2 c^3) / 16 of an autoregressive process.
    expect(kept([1040, 1041, 1042, 1043])).toBeCloseTo((4 + 6 * 0.8 + 4 * 0.64 + 2 * 0.512) / 16, 1)
    expect(kept([1040, 1060, 1080, 1100])).toBeLessThan(0.3)
  })

  test('of a donor moved by half a pixel is the finest, by the square of the filter’s response', () => {
    const { kept } = lentGrain(model, [share(1040, 1, 0.5)], undefined, WINDOW, 1)
    expect(kept[0]).toBeCloseTo(1, 6)
    // Half a pixel of any even filter has no answer at half a cycle per pixel: each pair of taps cancels.
    expect(kept[8]).toBeLessThan(1e-9)
    expect(kept[2 * 16]).toBeCloseTo(1, 6)
  })

  test('of another plate is told by its measured noise', () => {
    const other = { ...share(12), plate: 1 }
    const { kept } = lentGrain(model, [other], undefined, WINDOW, 0.5)
    for (const v of kept) expect(v).toBeCloseTo(0.25, 6)
  })
})
