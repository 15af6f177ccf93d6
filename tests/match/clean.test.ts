import fc from 'fast-check'
import { expect, test } from 'vitest'
import { Workspace } from '../../src/kernels/workspace.js'
import { markDirty, visibleSpread } from '../../src/match/clean.js'
import { INVALID } from '../../src/match/log-luminance.js'
import { VISIBLE_CODE } from '../../src/match/thresholds.js'
import { displaySlope } from '../../src/match/visible-error.js'

const workspace = new Workspace()

const W = 9
const H = 7

/** The rule as it is written down: the mean of the 3 x 3 neighbours that are no holes, against 4 spreads and 0.05 stops. */
function dirtyAt(x: number, y: number, aligned: Float32Array, light: number, validity: Uint8Array): number {
  if (validity[y * W + x] === INVALID) return 1
  let sum = 0
  let n = 0
  for (let v = Math.max(0, y - 1); v <= Math.min(H - 1, y + 1); v++) {
    for (let u = Math.max(0, x - 1); u <= Math.min(W - 1, x + 1); u++) {
      if (validity[v * W + u] === INVALID) continue
      sum += aligned[v * W + u]
      n++
    }
  }
  const off = Math.abs(sum / n + light)
  return off > 0.05 && off > 4 * 0.031 ? 1 : 0
}

test('what differs from the clean plate is marked by the mean of its neighbourhood, in the asked part only', () => {
  const level = new Float32Array(W * H)
  const spread = new Float32Array(W * H).fill(0.031)
  const pixel = fc.integer({ min: -8, max: 8 }).map((v) => v / 20)
  const part = fc
    .record({ x: fc.nat(W - 1), y: fc.nat(H - 1), w: fc.nat(W), h: fc.nat(H) })
    .map(({ x, y, w, h }) => ({
      x,
      y,
      w: Math.max(1, Math.min(w, W - x)),
      h: Math.max(1, Math.min(h, H - y)),
    }))
  fc.assert(
    fc.property(
      fc.array(pixel, { minLength: W * H, maxLength: W * H }),
      fc.array(fc.boolean(), { minLength: W * H, maxLength: W * H }),
      fc.constantFrom(0, 0.013, -0.21),
      part,
      (values, there, light, asked) => {
        const aligned = Float32Array.from(values)
        const validity = Uint8Array.from(there, (t) => (t ? 1 : INVALID))
        const dirty = new Uint8Array(W * H).fill(7)
        markDirty(workspace, { aligned, validity, exposure: light, level, spread }, W, dirty, asked)
        for (let y = 0; y < H; y++) {
          for (let x = 0; x < W; x++) {
            const within = x >= asked.x && y >= asked.y && x < asked.x + asked.w && y < asked.y + asked.h
            expect(dirty[y * W + x]).toBe(within ? dirtyAt(x, y, aligned, light, validity) : 7)
          }
        }
      },
    ),
    { seed: 8, numRuns: 300 },
  )
})

test('a spread is no less than what four of which an eye sees, by the formula at every level and bit', () => {
  const level = Float32Array.from({ length: 20_000 }, (_, i) => 1 - i / 1000)
  level[0] = Number.NaN
  for (const times of [0, 0.5, 0.98, 1, 1.02, 3, Number.NaN]) {
    const least = (at: number) => VISIBLE_CODE / (4 * displaySlope(at))
    const spread = level.map((at) => times * least(at))
    expect(visibleSpread(level, spread)).toEqual(spread.map((s, i) => Math.max(s, least(level[i]!))))
  }
})

test('what no display shows is not marked: half a stop in the deep shadows, a twentieth and a half in the mid-tones is', () => {
  const marked = (light: number, off: number) => {
    const level = new Float32Array(W * H).fill(Math.log2(light))
    const spread = visibleSpread(level, new Float32Array(W * H).fill(0.01))
    const aligned = level.map((v) => v + off)
    const dirty = new Uint8Array(W * H)
    markDirty(
      workspace,
      { aligned, validity: new Uint8Array(W * H).fill(1), exposure: 0, level, spread },
      W,
      dirty,
    )
    return dirty.every((d) => d === 1)
  }
  // IEC 61966-2-1 at 0.0005: 12.92 * 0.0005 * (sqrt(2) - 1) * 255 = 0.68 code values of 255; at 0.18, half a stop is 21.
  expect(marked(0.0005, 0.5)).toBe(false)
  expect(marked(0.0005, 2)).toBe(true)
  expect(marked(0.18, 0.075)).toBe(true)
  expect(marked(0.18, 0.04)).toBe(false)
})
