import { describe, expect, test } from 'vitest'
import {
  addLent,
  addWhole,
  evened,
  gained,
  markHoles,
  meanLogs,
  multiplyField,
  putChannel,
  takeChannel,
  zeroHoles,
} from '../../src/kernels/channels.js'
import { Workspace } from '../../src/kernels/workspace.js'

const PIXELS = 101
const picture = Float32Array.from({ length: 3 * PIXELS }, (_, i) => (i * 7919) % 1009)

test('the logarithm of a mean is what double precision gives, and of what is no light that of the floor', () => {
  const workspace = new Workspace()
  // From below black to the brightest half.
  const light = picture.map((v) => 65504 * (v / 1009) ** 5 - 0.01)
  for (const [i, odd] of [Number.NaN, Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY].entries())
    light[3 * (PIXELS - 1 - 4 * i) + i] = odd
  const out = new Float32Array(PIXELS)
  meanLogs(workspace, light, 2 ** -12, out)
  for (let i = 0; i < PIXELS; i++) {
    const mean = (light[3 * i] + light[3 * i + 1] + light[3 * i + 2]) / 3
    const wanted = Math.log2((Number.isFinite(mean) ? Math.max(0, mean) : 0) + 2 ** -12)
    expect(Math.abs(out[i] - wanted)).toBeLessThanOrEqual(1e-6)
  }
  workspace.close()
})

test('a channel that is taken out and put back into another picture is the same there, and the others are untouched', () => {
  const workspace = new Workspace()
  const own = new Float32Array(PIXELS)
  const other = picture.map((v) => -v)
  for (const c of [0, 1, 2]) {
    takeChannel(workspace, picture, c, own)
    expect(own).toEqual(picture.filter((_, i) => i % 3 === c))
    const into = other.slice()
    putChannel(workspace, own, c, into)
    expect(into).toEqual(other.map((v, i) => (i % 3 === c ? picture[i] : v)))
  }
  workspace.close()
})

test('pixels with a sample that is not finite are holes, however bright or dark the others', () => {
  const workspace = new Workspace()
  const holed = picture.slice()
  holed[3 * 4 + 1] = Number.NaN
  holed[3 * 50] = Number.POSITIVE_INFINITY
  holed[3 * 100 + 2] = Number.NEGATIVE_INFINITY
  holed[3 * 7] = 3.4e38
  holed[3 * 7 + 1] = 3.4e38
  const holes = new Uint8Array(PIXELS)
  expect(markHoles(workspace, holed, holes)).toBe(3)
  expect([...holes.keys()].filter((i) => holes[i] === 1)).toEqual([4, 50, 100])
  workspace.close()
})

describe('donors added to a mean', () => {
  const there = Uint8Array.from({ length: PIXELS }, (_, i) => (i % 5 === 0 || (i > 40 && i < 60) ? 0 : 1))
  const lit = picture.map((v) => 1.25 * v)
  const gain: [number, number, number] = [1.1, 0.9, 1.3]

  test.each([1, 3, 4, 7, PIXELS])('of %i pixels that all lend: as donors that lend to each', (pixels) => {
    const workspace = new Workspace()
    const part = (of: Float32Array) => of.slice(0, 3 * pixels)
    const all = new Uint8Array(pixels).fill(1)
    const empty = () => ({
      ...{ raw: new Float32Array(3 * pixels), matched: new Float32Array(3 * pixels) },
      weight: new Float32Array(pixels),
    })
    const wanted = empty()
    // What was there before the first has no say.
    const found = { raw: part(lit).fill(9), matched: part(lit).fill(Number.NaN) }
    for (const [k, one] of [part(picture), part(lit).map((v) => -v)].entries()) {
      const lends = { picture: one, lit: one.map((v) => 1.5 * v), weight: 0.3 + k, gain }
      addLent(workspace, { ...lends, there: all, share: null }, wanted)
      addWhole(workspace, lends, found, k === 0)
    }
    expect(found.raw).toEqual(wanted.raw)
    expect(found.matched).toEqual(wanted.matched)
    const onlyMatched = { raw: null, matched: part(picture) }
    addWhole(workspace, { picture: part(picture), lit: part(picture), weight: 1, gain }, onlyMatched, true)
    expect(onlyMatched.matched).toEqual(part(picture).map((v, i) => v * Math.fround(gain[i % 3])))
    workspace.close()
  })

  test.each([
    { name: 'all over', share: null },
    { name: 'a piece of a mosaic', share: Float32Array.from({ length: PIXELS }, (_, i) => (i % 7) / 7) },
  ])('$name: as the sum is written', ({ share }) => {
    const workspace = new Workspace()
    const found = { raw: lit.slice(), matched: picture.slice(), weight: new Float32Array(PIXELS).fill(0.25) }
    const wanted = { raw: lit.slice(), matched: picture.slice(), weight: new Float32Array(PIXELS).fill(0.25) }
    // What does not lend may hold anything.
    const holed = picture.map((v, i) => (there[Math.floor(i / 3)] === 0 ? Number.NaN : v))
    for (let i = 0; i < PIXELS; i++) {
      const w = 0.4 * there[i] * (share?.[i] ?? 1)
      if (w === 0) continue
      wanted.weight[i] += w
      for (let c = 0; c < 3; c++) {
        wanted.raw[3 * i + c] += w * picture[3 * i + c]
        wanted.matched[3 * i + c] += w * lit[3 * i + c] * gain[c]
      }
    }
    addLent(workspace, { picture: holed, lit, there, share, weight: 0.4, gain }, found)
    for (const part of ['raw', 'matched', 'weight'] as const)
      for (const [i, v] of wanted[part].entries())
        expect(Math.abs(found[part][i] - v)).toBeLessThanOrEqual(3e-7 * Math.abs(v))
    // Whoever does not ask for what was shot gets the same of the rest.
    const lone = { raw: null, matched: picture.slice(), weight: new Float32Array(PIXELS).fill(0.25) }
    addLent(workspace, { picture: holed, lit, there, share, weight: 0.4, gain }, lone)
    expect(lone).toEqual({ ...found, raw: null })
    const [counted, also] = [new Uint8Array(PIXELS), new Uint8Array(PIXELS)]
    expect(evened(workspace, lone, also)).toBe(evened(workspace, found, counted))
    expect(lone).toEqual({ ...found, raw: null })
    expect(also).toEqual(counted)
    workspace.close()
  })

  test('one donor alone is lent bit for bit, under its gain rounded once', () => {
    const workspace = new Workspace()
    const mean = {
      raw: new Float32Array(3 * PIXELS),
      matched: new Float32Array(3 * PIXELS),
      weight: new Float32Array(PIXELS),
    }
    addLent(workspace, { picture, lit: picture, there, share: null, weight: 1, gain }, mean)
    const seen = (i: number) => there[Math.floor(i / 3)] === 1
    expect(mean.raw).toEqual(picture.map((v, i) => (seen(i) ? v : 0)))
    const single = gain.map(Math.fround)
    expect(mean.matched).toEqual(picture.map((v, i) => (seen(i) ? v * single[i % 3] : 0)))
    workspace.close()
  })
})

test('a picture under a gain is rounded once, and no black of it is a negative one', () => {
  const workspace = new Workspace()
  const gain: [number, number, number] = [1.1, 0.9, 1.3]
  const single = gain.map(Math.fround)
  for (const pixels of [1, 2, 3, 4, PIXELS]) {
    const source = picture.slice(0, 3 * pixels)
    source[0] = -0
    const out = source.slice()
    gained(workspace, source, gain, out)
    expect([...out].every((v, i) => Object.is(v, 0 + Math.fround(source[i] * single[i % 3])))).toBe(true)
  }
  workspace.close()
})

test('sums become means where the weights are not 1, and it is said who lends', () => {
  const workspace = new Workspace()
  const weight = Float32Array.from({ length: PIXELS }, (_, i) => [1, 0, 0.25, 0.9999999, 0.7][i % 5])
  const mean = { raw: picture.slice(), matched: picture.map((v) => 1.3 * v), weight: weight.slice() }
  const [raw, matched] = [mean.raw, mean.matched].map((data) =>
    data.map((v, j) => {
      const w = weight[Math.floor(j / 3)]
      return w === 0 || Math.abs(w - 1) <= 1e-6 ? v : v * (1 / w)
    }),
  )
  const there = new Uint8Array(PIXELS)
  const wanted = Uint8Array.from(weight, (w) => (w > 0 ? 1 : 0))
  expect(evened(workspace, mean, there)).toBe(wanted.filter((v) => v === 1).length)
  expect(there).toEqual(wanted)
  expect(mean).toEqual({ raw, matched, weight })
  workspace.close()
})

test('a surface is the product of its columns’ factors and of what its rows begin and go on with', () => {
  const workspace = new Workspace()
  const [width, height] = [7, 5]
  const data = picture.slice(0, 3 * width * height)
  const factors = (n: number) => Float64Array.from({ length: 3 * n }, (_, i) => 0.7 + ((i * 31) % 17) / 20)
  const field = { across: factors(width), starts: factors(height), steps: factors(height) }
  const wanted = data.map((v, j) => {
    const [c, x, y] = [j % 3, Math.floor(j / 3) % width, Math.floor(j / 3 / width)]
    return v * field.across[3 * x + c] * field.starts[3 * y + c] * field.steps[3 * y + c] ** x
  })
  const [before, out] = [data.slice(), new Float32Array(data.length)]
  multiplyField(workspace, data, field, out)
  expect(data).toEqual(before)
  multiplyField(workspace, data, field, data)
  expect(data).toEqual(out)
  for (const [j, v] of wanted.entries()) expect(Math.abs(data[j] - v)).toBeLessThanOrEqual(1e-6 * v)
  workspace.close()
})

test('what is not finite becomes nothing, and all else stays', () => {
  const workspace = new Workspace()
  for (const length of [1, 5, PIXELS]) {
    const data = picture.slice(0, length)
    const wanted = data.slice()
    for (const [k, odd] of [Number.NaN, Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY].entries())
      if (length > 2 * k) [data[2 * k], wanted[2 * k]] = [odd, 0]
    zeroHoles(workspace, data)
    expect(data).toEqual(wanted)
  }
  workspace.close()
})
