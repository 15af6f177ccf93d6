// Outside truth for the correlation: OpenCV's matchTemplate with TM_CCOEFF_NORMED and a mask (@techstark/opencv-js).
// Every whole-pixel offset of the surface is compared wherever OpenCV's own answer is finite.
import { beforeAll, describe, expect, test } from 'vitest'
import { Workspace } from '../../src/kernels/workspace.js'
import { weightedNcc } from '../../src/match/ncc.js'
import { loadOpenCv, maskedCoefficients, type OpenCv } from '../opencv.js'
import { randomFrom } from '../random.js'

const workspace = new Workspace()

interface Picture {
  readonly width: number
  readonly height: number
  readonly data: Float32Array
}

/** OpenCV's single-precision Fourier sums are good to about 1e-5 on these pictures, once those are centred. */
const TOLERANCE = 1e-4
const REACH = 6

function draw(width: number, height: number, at: (x: number, y: number) => number): Picture {
  return {
    width,
    height,
    data: Float32Array.from({ length: width * height }, (_, i) => at(i % width, Math.floor(i / width))),
  }
}

const textures: Record<string, (seed: string) => (x: number, y: number) => number> = {
  'white noise': (seed) => {
    const random = randomFrom(seed)
    return () => random()
  },
  'bricks with grain': (seed) => {
    const random = randomFrom(seed)
    return (x, y) =>
      (y % 9 === 0 || (x + (Math.floor(y / 9) % 2) * 7) % 14 === 0 ? 0.2 : 0.6) + 0.05 * random()
  },
  'a gradient with faint grain': (seed) => {
    const random = randomFrom(seed)
    return (x, y) => 0.01 * x + 0.004 * y + 0.01 * random()
  },
  'bright, faint texture in stops': (seed) => {
    const random = randomFrom(seed)
    return (x, y) => 3 + 0.1 * Math.sin(x / 3) * Math.cos(y / 5) + 0.02 * random()
  },
}

const masks: Record<string, (x: number, y: number, width: number, height: number) => number> = {
  'the whole rectangle': () => 1,
  'a ring round a hole': (x, y, w, h) => (x < 6 || y < 6 || x >= w - 6 || y >= h - 6 ? 1 : 0),
  'a scattered half': (x, y) => ((x * 7 + y * 13) % 5 < 2 ? 1 : 0),
  'seven pixels': (x, y) => (y === 4 && x >= 3 && x < 10 ? 1 : 0),
}

let cv: OpenCv
beforeAll(async () => {
  cv = await loadOpenCv()
})

function centred({ width, height, data }: Picture): Picture {
  const mean = data.reduce((a, b) => a + b) / data.length
  return { width, height, data: data.map((v) => v - mean) }
}

/** Correlation at every whole-pixel place of the template, by the code under test. */
function surface(image: Picture, template: Picture, mask: Float32Array): (number | null)[] {
  const out: (number | null)[] = []
  const cut = new Float32Array(template.data.length)
  for (let top = 0; top <= image.height - template.height; top++) {
    for (let left = 0; left <= image.width - template.width; left++) {
      for (let y = 0; y < template.height; y++) {
        const from = (top + y) * image.width + left
        cut.set(image.data.subarray(from, from + template.width), y * template.width)
      }
      out.push(weightedNcc(workspace, template.data, cut, mask))
    }
  }
  return out
}

describe.each(Object.keys(textures))('on %s', (texture) => {
  test.each(Object.keys(masks))('the surface under %s is the one that OpenCV gives', (shape) => {
    const [width, height] = [36, 28]
    const image = draw(width + 2 * REACH, height + 2 * REACH, textures[texture]('picture'))
    // The template is the image's middle with other grain on it, so that the surface has a true peak.
    const grain = randomFrom('grain')
    const template = draw(
      width,
      height,
      (x, y) => 1.3 * image.data[(y + REACH) * image.width + x + REACH] + 0.02 * grain(),
    )
    const mask = draw(width, height, (x, y) => masks[shape](x, y, width, height)).data
    // Theirs sees centred pictures, as single precision can't hold a faint texture on a bright wall; ours sees them as shot.
    const theirs = maskedCoefficients(cv, centred(image), centred(template), mask)
    const ours = surface(image, template, mask)
    expect(ours).toHaveLength(theirs.data.length)
    let compared = 0
    for (const [i, value] of theirs.data.entries()) {
      if (!Number.isFinite(value)) continue
      compared++
      expect(Math.abs(ours[i]! - value), `offset ${i}: ${ours[i]} against ${value}`).toBeLessThan(TOLERANCE)
    }
    expect(compared).toBe((2 * REACH + 1) ** 2)
    const peak = theirs.data.indexOf(Math.max(...theirs.data))
    expect(ours[peak]).toBeGreaterThan(Math.max(...ours.map((v) => v ?? -2)) - TOLERANCE)
  })
})

test('where OpenCV divides nothing by nothing, there is no correlation and it is said', () => {
  const image = draw(20, 20, () => 0)
  const template = draw(12, 12, (x, y) => ((x ^ y) & 1 ? -1 : 1))
  const mask = new Float32Array(144).fill(1)
  const theirs = maskedCoefficients(cv, image, template, mask)
  expect(theirs.data.some(Number.isFinite)).toBe(false)
  expect(surface(image, template, mask)).toEqual(new Array(81).fill(null))
})
