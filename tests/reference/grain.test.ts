// Outside truth for grain: NumPy's FFT of a windowed tile, scikit-image's estimator of noise (fixtures/grain/grain.py wrote down
// what they find), and the closed form of a linear filter's response.
import { describe, expect, test } from 'vitest'
import reference from '../../fixtures/grain/grain.json' with { type: 'json' }
import { Workspace } from '../../src/kernels/workspace.js'
import { BILINEAR, taps } from '../../src/raster/filters.js'
import { frame } from '../../src/raster/frame.js'
import { measureGrain } from '../../src/repair/grain/measure.js'
import { grainAt } from '../../src/repair/grain/model.js'
import { responseOf, TileTransform } from '../../src/repair/grain/spectrum.js'

describe('grain against other libraries', () => {
  test('a tile’s power, averaged over rings of one frequency, is that of NumPy’s FFT', () => {
    const power = new Float64Array(256)
    new TileTransform().addPower(Float64Array.from(reference.tile), 1, power)
    const near = (k: number) => Math.min(k, 16 - k)
    for (const [r, wanted] of reference.radial.entries()) {
      const ring = [...power].filter(
        (_, i) => Math.round(Math.hypot(near(i % 16), near(Math.floor(i / 16)))) === r,
      )
      const mean = ring.reduce((sum, v) => sum + v, 0) / ring.length
      expect(mean / wanted).toBeCloseTo(1, 9)
    }
  })

  test('the grain between two frames is as strong as scikit-image finds it in each', () => {
    const [width, height] = [64, 48]
    const size = width * height
    const frames = [0, 1].map((f) => {
      const picture = frame(height, width, 3)
      for (let i = 0; i < size; i++)
        for (let c = 0; c < 3; c++) picture.data[3 * i + c] = 0.3 + reference.noise[f * size + i] / 10000
      return { frame: f, picture }
    })
    const model = measureGrain(new Workspace(), frames, new Float32Array(size).fill(1), 10, true)!
    // Three thousand samples tell a deviation to two hundredths; the estimator is a median.
    for (const c of [0, 1, 2])
      expect(Math.abs(grainAt(model, c, 0.3) / reference.sigma - 1)).toBeLessThan(0.06)
  })

  test('half a pixel between neighbours leaves the square of the cosine of each frequency', () => {
    const response = responseOf(taps(0.5, BILINEAR).weights, taps(0, BILINEAR).weights)
    // |1 + exp(-i w)|^2 / 4 = cos(w / 2)^2: A. Oppenheim, R. Schafer, Discrete-Time Signal Processing, the mean of two samples.
    for (let u = 0; u < 16; u++) expect(response[u]).toBeCloseTo(Math.cos((Math.PI * u) / 16) ** 2, 12)
  })
})
