// Outside: what OpenEXR 3.1 itself reads from files it wrote, by fixtures/exr/make.cpp.
import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { exrReader } from '../../src/footage/exr/reader.js'
import { intersect, isEmpty } from '../../src/raster/rect.js'

interface Case {
  readonly file: string
  readonly layer: string | null
  readonly expected: string
  readonly dataWindow: readonly [x: number, y: number, w: number, h: number]
  readonly displayWindow: readonly [x: number, y: number, w: number, h: number]
}

const FOLDER = 'fixtures/exr/'
const CASES = JSON.parse(readFileSync(`${FOLDER}index.json`, 'utf8')) as Case[]

/**
 * How far a sample may be from OpenEXR's, relative to its size and at least to 0.01. Only what is not defined to the last
 * bit has any room. DWA's cosine transform is done in another precision, so that a few samples (measured: 12 of 2,997)
 * round to the next half on DWA's curve, which is up to 1/380 in linear light. Colour differences of luminance/chroma are
 * filled in by straight lines, where OpenEXR has a wider filter (measured: 1/175).
 */
function room({ file, expected }: Case): number {
  if (/^chroma/.test(file)) return 1 / 100
  return /dwa/.test(file) || expected === 'parts.fog.bin' ? 1 / 300 : 0
}

/** What the display window shows of the expected samples, 0 elsewhere. */
function shown({ expected, dataWindow, displayWindow }: Case): { w: number; h: number; data: Float32Array } {
  const samples = new Float32Array(new Uint8Array(readFileSync(FOLDER + expected)).buffer)
  const [dx, dy, dw, dh] = dataWindow
  const [x, y, w, h] = displayWindow
  const data = new Float32Array(w * h * 3)
  const shared = intersect({ x, y, w, h }, { x: dx, y: dy, w: dw, h: dh })
  if (isEmpty(shared)) return { w, h, data }
  for (let row = shared.y; row < shared.y + shared.h; row++) {
    const from = ((row - dy) * dw + shared.x - dx) * 3
    data.set(samples.subarray(from, from + shared.w * 3), ((row - y) * w + shared.x - x) * 3)
  }
  return { w, h, data }
}

// of the samples of a DWA picture; more would be another transform, not another rounding
const ROUNDED_OTHERWISE = 0.01

function expectClose(got: Float32Array, wanted: Float32Array, tolerance: number): void {
  expect(got.length).toBe(wanted.length)
  for (let i = 0; i < got.length; i++) {
    const off = Math.abs(got[i]! - wanted[i]!)
    if (!(off <= tolerance * Math.max(0.01, Math.abs(wanted[i]!)))) {
      expect.fail(`sample ${i} is ${got[i]}, OpenEXR reads ${wanted[i]}`)
    }
  }
}

const title = ({ file, layer }: Case): string => `${file}${layer === null ? '' : ` layer ${layer}`}`

describe('an EXR frame', () => {
  test('every compression is there as half, float and layers, and every layout', () => {
    expect(CASES.length).toBeGreaterThan(80)
    for (const method of ['none', 'rle', 'zips', 'zip', 'piz', 'pxr24', 'b44', 'b44a', 'dwaa', 'dwab']) {
      for (const kind of ['half', 'float', 'layers']) {
        expect(CASES.filter((c) => c.file === `${kind}-${method}.exr`).length).toBeGreaterThan(0)
      }
    }
  })

  test('the comparison has teeth: one last bit is seen where none is allowed, one percent where a little is', () => {
    expect(() => expectClose(Float32Array.of(1 + 2 ** -10), Float32Array.of(1), 0)).toThrow('sample 0')
    expect(() => expectClose(Float32Array.of(1.01), Float32Array.of(1), 1 / 300)).toThrow('sample 0')
    expect(() => expectClose(Float32Array.of(Number.NaN), Float32Array.of(1), 1)).toThrow('sample 0')
  })

  test.each(CASES.map((c) => [title(c), c] as const))(
    '%s: the samples are those that OpenEXR reads',
    async (_, c) => {
      const { w, h, data } = shown(c)
      const options = c.layer === null ? {} : { layer: c.layer }
      const path = FOLDER + c.file
      const info = await exrReader.probe(path, options)
      expect(info).toMatchObject({ width: w, height: h })
      const read = await exrReader.read(path, { x: 0, y: 0, w, h }, options)
      expect(read.shape).toEqual([h, w, 3])
      expectClose(read.data, data, room(c))
      if (/^chroma/.test(c.file)) return
      const others = read.data.filter((v, i) => v !== data[i]).length
      expect(others).toBeLessThan(ROUNDED_OTHERWISE * data.length)
    },
  )

  test.each(CASES.map((c) => [title(c), c] as const))(
    '%s: a rectangle is what the whole frame has there',
    async (_, c) => {
      const options = c.layer === null ? {} : { layer: c.layer }
      const [, , w, h] = c.displayWindow
      const whole = (await exrReader.read(FOLDER + c.file, { x: 0, y: 0, w, h }, options)).data
      for (const rect of [
        { x: 0, y: 0, w: 1, h: 1 },
        { x: w - 1, y: h - 1, w: 1, h: 1 },
        { x: 3, y: 2, w: w - 5, h: h - 6 },
        { x: 1, y: 5, w: 4, h: 3 },
      ]) {
        const { data } = await exrReader.read(FOLDER + c.file, rect, options)
        for (let y = 0; y < rect.h; y++) {
          const from = ((rect.y + y) * w + rect.x) * 3
          expect(data.subarray(y * rect.w * 3, (y + 1) * rect.w * 3)).toEqual(
            whole.subarray(from, from + rect.w * 3),
          )
        }
      }
    },
  )
})
