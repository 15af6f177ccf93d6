// Outside truth for transforms and the resampler: OpenCV's perspectiveTransform (@techstark/opencv-js), and
// scikit-image's warp and Pillow's resize, whose answers fixtures/resample/make.py and make_smaller.py wrote down.
import { beforeAll, describe, expect, test } from 'vitest'
import resampled from '../../fixtures/resample/cases.json' with { type: 'json' }
import smaller from '../../fixtures/resample/smaller.json' with { type: 'json' }
import { resample } from '../../src/kernels/resample.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { BILINEAR, CUBIC, LANCZOS3, NEAREST } from '../../src/raster/filters.js'
import { plane } from '../../src/raster/plane.js'
import { apply, compose, invert, type Transform } from '../../src/raster/transform.js'
import { loadOpenCv, type OpenCv, perspectivePoints } from '../opencv.js'
import { randomFrom } from '../random.js'

const TILTED: Transform = [1.04, -0.03, 12.5, 0.05, 0.97, -7.25, 2e-5, -1e-5, 1]
const TURNED: Transform = [0.96, 0.28, -31, -0.28, 0.96, 18, 0, 0, 1]

describe("OpenCV's perspectiveTransform", () => {
  let cv: OpenCv
  beforeAll(async () => {
    cv = await loadOpenCv()
  }, 30_000)

  test.each([
    { title: 'a tilt', transform: TILTED },
    { title: 'a turn after a tilt', transform: compose(TURNED, TILTED) },
    { title: 'the way back', transform: invert(compose(TURNED, TILTED)) },
  ])('puts pixels of a 4K plate where $title puts them', ({ transform }) => {
    const random = randomFrom('pixels')
    const points = Float64Array.from({ length: 400 }, (_, i) => (i % 2 === 0 ? 4096 : 2160) * random())
    const wanted = perspectivePoints(cv, transform, points)
    for (let i = 0; i < points.length; i += 2) {
      const found = apply(transform, points[i], points[i + 1])
      expect(Math.hypot(found.x - wanted[i], found.y - wanted[i + 1])).toBeLessThan(1e-8)
    }
  })
})

describe("scikit-image's warp", () => {
  const filters = { nearest: NEAREST, bilinear: BILINEAR, cubic: CUBIC }
  const { width, height, data } = resampled.picture
  const source = { x: 0, y: 0, width, height, data: Float32Array.from(data) }

  test.each(resampled.cases)('gives a picture $title the same samples, $filter', (c) => {
    const out = plane(0, 0, width, height)
    resample(
      new Workspace(),
      source,
      c.transform as unknown as Transform,
      out,
      filters[c.filter as keyof typeof filters],
    )
    expect(c.result).toHaveLength(out.data.length)
    // Single precision: the samples are normal numbers of deviation 1.
    for (const [i, wanted] of c.result.entries()) expect(Math.abs(out.data[i] - wanted)).toBeLessThan(2e-6)
  })
})

describe("Pillow's resize", () => {
  const filters = { bilinear: BILINEAR, cubic: CUBIC, lanczos: LANCZOS3 }
  const { width, height, data } = smaller.picture
  const source = { x: 0, y: 0, width, height, data: Float32Array.from(data) }

  test.each(smaller.cases)('makes a picture $size.0 x $size.1 of the same samples, $filter', (c) => {
    const [w, h] = c.size
    const [left, top, right, bottom] = c.inside
    const out = plane(left, top, right - left + 1, bottom - top + 1)
    // Pixels there are squares whose corner is the picture's: their middles lie at halves.
    const [across, down] = [w / width, h / height]
    const t: Transform = [across, 0, (across - 1) / 2, 0, down, (down - 1) / 2, 0, 0, 1]
    resample(new Workspace(), source, t, out, filters[c.filter as keyof typeof filters])
    expect(c.result).toHaveLength(out.data.length)
    expect(out.data.length).toBeGreaterThan(20)
    for (const [i, wanted] of c.result.entries()) expect(Math.abs(out.data[i] - wanted)).toBeLessThan(4e-6)
  })
})
