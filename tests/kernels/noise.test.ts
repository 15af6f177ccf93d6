import { describe, expect, test } from 'vitest'
import { addFiltered, carryOn, layNoise, whiteNoise } from '../../src/kernels/noise.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { randomFrom } from '../random.js'

const { fround } = Math

/** The slow twin: tap by tap, row by row, each step rounded to float32. */
function filtered(
  field: Readonly<Float32Array>,
  weights: Readonly<Float32Array>,
  takes: Readonly<Float32Array>,
  into: Readonly<Float32Array>,
  width: number,
): Float32Array {
  const side = Math.sqrt(weights.length)
  const height = into.length / width
  const round = (i: number, n: number) => ((i % n) + n) % n
  return into.map((own, i) => {
    const [x, y] = [i % width, Math.floor(i / width)]
    let sum = 0
    for (let v = 0; v < side; v++)
      for (let u = 0; u < side; u++) {
        const at = round(y + v - (side >> 1), height) * width + round(x + u - (side >> 1), width)
        sum = fround(sum + fround(weights[v * side + u] * field[at]))
      }
    return takes[i] === 0 ? own : fround(own + fround(takes[i] * sum))
  })
}

/** The slow twin: number by number, with the engine's own logarithm. */
function white(state: number, length: number): Float64Array {
  const even = () => {
    state = (state + 0x6d2b79f5) | 0
    let t = Math.imul(state ^ (state >>> 15), state | 1)
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61)
    return (2 * ((t ^ (t >>> 14)) >>> 0)) / 2 ** 32 - 1
  }
  const out: number[] = []
  while (out.length < length) {
    const [u, v] = [even(), even()]
    const s = u * u + v * v
    if (s >= 1 || s === 0) continue
    const scale = Math.sqrt((-2 * Math.log(s)) / s)
    out.push(u * scale, v * scale)
  }
  return Float64Array.from(out.slice(0, length))
}

describe('white noise', () => {
  test.each([0, 1, 2, 3, 7, 8, 1000, 73_585])('of %i samples is that of its slow twin', (length) => {
    const workspace = new Workspace()
    for (const state of [0, 1, -1, 0x7fffffff, -0x80000000, 123456789]) {
      const out = new Float32Array(length)
      whiteNoise(workspace, state, out)
      const wanted = white(state, length)
      // Both logarithms are right to a last place of float64, which float32 shows once in a thousand million samples.
      const furthest = wanted.reduce((most, v, i) => Math.max(most, Math.abs(out[i] / v - 1)), 0)
      expect(furthest).toBeLessThan(2 ** -23)
      if (length === 73_585) {
        let differing = 0
        for (let i = 0; i < length; i++) if (out[i] !== fround(wanted[i])) differing++
        expect(differing).toBeLessThan(2)
      }
    }
    workspace.close()
  })
})

describe('noise under a filter', () => {
  test.each([
    [1, 30, 1],
    [3, 12, 3],
    [15, 4, 5],
    [16, 6, 3],
    [18, 5, 7],
    [37, 9, 5],
    [67, 8, 15],
  ])(
    'of %i x %i pixels, %i taps a side, is the plain sum bit for bit, and stays where none is wanted',
    (width, height, side) => {
      const random = randomFrom(`noise ${width} ${side}`)
      const made = (length: number) => Float32Array.from({ length }, () => random() - 0.5)
      const [field, weights, into] = [made(width * height), made(side * side), made(width * height)]
      // A gap of 20 pixels now and then, longer than what is summed side by side, and single ones.
      const takes = made(width * height).map((v, i) => (i % 41 < 20 || random() < 0.2 ? 0 : v))
      const wanted = filtered(field, weights, takes, into, width)
      addFiltered(new Workspace(), field, weights, takes, into, width)
      for (let i = 0; i < into.length; i++)
        if (into[i] !== wanted[i]) expect([i, into[i]]).toEqual([i, wanted[i]])
      expect(into.some((_, i) => takes[i] !== 0)).toBe(true)
    },
  )
})

test.each([0, 0.3, 0.95])(
  'noise of which %f is carried on is told in doubles, to the last bit',
  (carried) => {
    const workspace = new Workspace()
    for (const length of [1, 4, 7, 1000]) {
      const random = randomFrom(`carried ${length}`)
      const field = Float32Array.from({ length }, () => random() - 0.5)
      const [white, out] = [new Float32Array(length), new Float32Array(length)]
      whiteNoise(workspace, 77, white)
      carryOn(workspace, field, carried, 77, out)
      const rest = Math.sqrt(1 - carried * carried)
      expect(out).toEqual(field.map((v, i) => carried * v + rest * white[i]))
    }
    workspace.close()
  },
)

describe('noise mixed into channels', () => {
  const mix = Float64Array.of(0.6, 0.3, -0.2, 0.5, -0.7, 0.1, 0.4, 0.2, 0.8)
  const law = { level: [0.1, 0.2, 0.3], power: [0.5, 0.4, 1], darkest: 1e-3 }

  test.each([1, 3, 4, 9, 64, 1021])(
    'of %i pixels goes with each sample, and none leaves it bit for bit',
    (length) => {
      const workspace = new Workspace()
      const random = randomFrom(`mixed ${length}`)
      const isNone = Array.from({ length }, (_, i) => i % 13 < 5 || random() < 0.1)
      const fields = [0, 1, 2].map(() => Float32Array.from(isNone, (none) => (none ? 0 : random() - 0.5)))
      for (const components of [fields, [fields[0], null, fields[2]], [null, null, null]]) {
        const data = Float32Array.from({ length: 3 * length }, () => random())
        const out = data.slice()
        layNoise(workspace, out, components, mix, law)
        for (let i = 0; i < length; i++)
          for (let c = 0; c < 3; c++) {
            let noise = 0
            for (const [k, field] of components.entries())
              if (field !== null) noise = fround(noise + fround(fround(mix[3 * c + k]) * field[i]))
            const light = data[3 * i + c]
            if (noise === 0) expect(out[3 * i + c]).toBe(light)
            else {
              const more = law.level[c] * Math.max(law.darkest, light) ** law.power[c] * noise
              // Powers are right to 5e-7 of themselves, and a sum to half a place of float32.
              expect(Math.abs(out[3 * i + c] - light - more)).toBeLessThan(1e-6 * Math.abs(more) + 1e-7)
            }
          }
      }
      workspace.close()
    },
  )
})
