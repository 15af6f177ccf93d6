import { describe, expect, test } from 'vitest'
import type { Labelling } from '../../src/kernels/labels.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { labelGrid, MAX_LABELS, NO_LABEL } from '../../src/match/labelling.js'
import { normal, randomFrom } from '../random.js'
import { plainExpansion, plainLowestPrice, priceOf } from './labelling.reference.js'

const workspace = new Workspace()
const DIRTY = 400

/** Pictures of grain alone, each with somebody in its own columns. */
function thirds(width: number, height: number, count: number, labelPrice = 20): Labelling {
  const random = randomFrom(`thirds ${width} ${height} ${count}`)
  const size = width * height
  const covered = (label: number, i: number) => Math.floor(((i % width) * count) / width) === label
  return {
    width,
    height,
    wanted: new Uint8Array(size).fill(1),
    data: Array.from({ length: count }, (_, l) =>
      Float32Array.from({ length: size }, (_, i) => (covered(l, i) ? DIRTY : 1)),
    ),
    pictures: Array.from({ length: count }, (_, l) =>
      Float32Array.from({ length: size }, (_, i) => (covered(l, i) ? 40 : normal(random))),
    ),
    labelPrice,
  }
}

function randomJob(key: string, labelPrice: number): Labelling {
  const random = randomFrom(key)
  const wanted = Uint8Array.from({ length: 9 }, () => (random() < 0.85 ? 1 : 0))
  wanted[4] = 1
  const map = (most: number) => Float32Array.from({ length: 9 }, () => most * random())
  return {
    width: 3,
    height: 3,
    wanted,
    data: [map(12), map(12), map(12)],
    pictures: [map(3), map(3), map(3)],
    labelPrice,
  }
}

describe('a labelling', () => {
  test('of pictures of which each has somebody in another part shows nobody, from as few of them as that takes', () => {
    for (const count of [3, 6]) {
      const job = thirds(120, 90, count)
      const labels = labelGrid(workspace, job)
      expect(labels.filter((l, i) => job.data[l][i] === DIRTY)).toHaveLength(0)
      expect(new Set(labels).size).toBe(2)
    }
  })

  test('cuts where pictures agree, not where it is shortest', () => {
    // Two pictures that must meet somewhere: they agree along one crooked line only.
    const [width, height] = [60, 40]
    const line = (y: number) => Math.round(30 + 12 * Math.sin(y / 6))
    const size = width * height
    const on = (i: number) => Math.abs((i % width) - line(Math.floor(i / width))) <= 2
    const job: Labelling = {
      width,
      height,
      wanted: new Uint8Array(size).fill(1),
      data: [0, 1].map((l) =>
        Float32Array.from({ length: size }, (_, i) =>
          (l === 0 ? i % width > 50 : i % width < 10) ? DIRTY : 0,
        ),
      ),
      pictures: [0, 1].map((l) => Float32Array.from({ length: size }, (_, i) => (l === 0 || on(i) ? 0 : 25))),
      labelPrice: 1,
    }
    const labels = labelGrid(workspace, job)
    for (let i = 0; i + 1 < size; i++)
      if (i % width < width - 1 && labels[i] !== labels[i + 1]) expect(on(i)).toBe(true)
    expect(new Set(labels).size).toBe(2)
  })

  test('costs at most a tenth more than the best of all there are, in 20 cases on nine pixels, and as a rule no more', () => {
    let best = 0
    for (let k = 0; k < 20; k++) {
      const job = randomJob(`small ${k}`, k % 4 === 0 ? 0 : 3)
      const labels = labelGrid(workspace, job)
      const price = priceOf(job, labels)
      const lowest = plainLowestPrice(job)
      expect(price).toBeLessThanOrEqual(1.1 * lowest + 1e-5)
      if (price < lowest + 1e-4) best++
      expect([...labels].every((l, i) => (l === NO_LABEL) === (job.wanted[i] === 0))).toBe(true)
    }
    expect(best).toBeGreaterThan(15)
  })

  test('is one that no step of alpha expansion lowers, told by the plain graph of one, in 8 cases of 108 pixels', () => {
    for (let k = 0; k < 8; k++) {
      const random = randomFrom(`expansion ${k}`)
      const [width, height] = [12, 9]
      const map = (most: number) => Float32Array.from({ length: width * height }, () => most * random())
      const job: Labelling = {
        width,
        height,
        wanted: Uint8Array.from({ length: width * height }, () => (random() < 0.95 ? 1 : 0)),
        data: [0, 1, 2, 3].map(() => map(4)),
        pictures: [0, 1, 2, 3].map(() => map(1)),
        labelPrice: 0,
      }
      const labels = labelGrid(workspace, job)
      const price = priceOf(job, labels)
      expect(new Set(labels).size).toBeGreaterThan(3)
      // Any pixel in another label's place: the check can fail.
      const other = labels.map((l, i) => (i === 40 && l !== NO_LABEL ? (l + 1) % 4 : l))
      const saves = (of: Uint8Array) =>
        Math.max(...[0, 1, 2, 3].map((alpha) => priceOf(job, of) - plainExpansion(job, of, alpha)))
      expect(saves(labels)).toBeLessThan(1e-5 * price)
      if (labels[40] !== NO_LABEL) expect(saves(other)).toBeGreaterThan(1e-5 * price)
    }
  })

  test('found in blocks first costs at most a fifth more per pixel of seam than one found pixel by pixel, through grain alone', () => {
    // Up to 64 x 64 pixels there are no blocks. Data cost 1 a pixel, two labels are in use.
    const seam = (size: number) => {
      const job = thirds(size, size, 3)
      return (priceOf(job, labelGrid(workspace, job)) - size * size - 2 * job.labelPrice) / size
    }
    const fine = seam(60)
    expect(fine).toBeGreaterThan(0)
    expect(seam(180)).toBeLessThan(1.2 * fine)
  })

  test('of one picture is that picture, and of none or too many is refused', () => {
    const job = thirds(20, 10, 1)
    expect(new Set(labelGrid(workspace, job))).toEqual(new Set([0]))
    const none = { ...job, data: [], pictures: [] }
    expect(() => labelGrid(workspace, none)).toThrow(
      new RangeError('there must be 1 to 255 labels, and are 0'),
    )
    const many = { ...job, data: new Array(MAX_LABELS + 1).fill(job.data[0]) }
    expect(() => labelGrid(workspace, many)).toThrow(
      new RangeError('there must be 1 to 255 labels, and are 256'),
    )
  })

  test('leaves what it is given as it was', () => {
    const job = thirds(40, 30, 3)
    const before = structuredClone(job)
    labelGrid(workspace, job)
    expect(job).toEqual(before)
  })
})
