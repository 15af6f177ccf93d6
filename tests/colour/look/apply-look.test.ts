// Colours through a look: the quick way against the tetrahedra spelt out, and what must hold for any look.
import { expect, test } from 'vitest'
import { applyLook } from '../../../src/colour/look/apply-look.js'
import type { Look, Table } from '../../../src/colour/look/look.js'
import { randomFrom } from '../../random.js'

type Rgb = readonly [number, number, number]

const UNIT = { min: [0, 0, 0], max: [1, 1, 1] } as const

/** A table with an entry for each place, made from the place's own colour. */
function cubeOf(size: number, entry: (at: Rgb) => Rgb, domain: Pick<Table, 'min' | 'max'> = UNIT): Table {
  const values: number[] = []
  const place = (i: number, c: number) =>
    domain.min[c]! + (i / (size - 1)) * (domain.max[c]! - domain.min[c]!)
  for (let b = 0; b < size; b++)
    for (let g = 0; g < size; g++)
      for (let r = 0; r < size; r++) values.push(...entry([place(r, 0), place(g, 1), place(b, 2)]))
  return { ...domain, size, values: Float32Array.from(values) }
}

function through(tables: Partial<Look>, ...colours: Rgb[]): Rgb[] {
  const rgb = Float32Array.from(colours.flat())
  applyLook({ path: '', name: '', curves: null, cube: null, ...tables }, rgb)
  return colours.map((_, i) => [rgb[3 * i]!, rgb[3 * i + 1]!, rgb[3 * i + 2]!])
}

function expectNear(found: Rgb, wanted: Rgb, within: number): void {
  for (let c = 0; c < 3; c++) expect(Math.abs(found[c]! - wanted[c]!)).toBeLessThan(within)
}

/** Kasson et al. 1995: the axes in the order of their fractions, and from corner to corner along them. */
function slowly({ size, values, min, max }: Table, colour: Rgb): Rgb {
  const cell: number[] = []
  const part: number[] = []
  for (let c = 0; c < 3; c++) {
    const inside = Math.min(Math.max((colour[c]! - min[c]!) / (max[c]! - min[c]!), 0), 1) * (size - 1)
    cell[c] = Math.min(Math.floor(inside), size - 2)
    part[c] = inside - cell[c]!
  }
  const entry = (at: readonly number[], c: number) =>
    values[3 * (at[0]! + size * (at[1]! + size * at[2]!)) + c]!
  const order = [0, 1, 2].sort((a, b) => part[b]! - part[a]!)
  const corners = [cell]
  for (const axis of order) corners.push(corners.at(-1)!.map((v, c) => (c === axis ? v + 1 : v)))
  const bounds = [1, ...order.map((axis) => part[axis]!), 0]
  return [0, 1, 2].map((c) =>
    corners.reduce((sum, corner, k) => sum + (bounds[k]! - bounds[k + 1]!) * entry(corner, c), 0),
  ) as unknown as Rgb
}

test('is the same as the tetrahedra spelt out, for any size, domain and colour', () => {
  const random = randomFrom('tetrahedra')
  const between = (low: number, high: number) => low + random() * (high - low)
  for (const size of [2, 3, 5, 17]) {
    const min: Rgb = [between(-1, 0), between(-1, 0), between(-1, 0)]
    const max: Rgb = [between(0.5, 4), between(0.5, 4), between(0.5, 4)]
    const cube = cubeOf(size, () => [between(-1, 2), between(-1, 2), between(-1, 2)], { min, max })
    const colours = Array.from({ length: 500 }, (): Rgb => [between(-2, 5), between(-2, 5), between(-2, 5)])
    for (const [i, found] of through({ cube }, ...colours).entries())
      expectNear(found, slowly(cube, colours[i]!), 2e-5)
  }
})

test('a look that is a matrix and an offset is followed exactly between its entries too', () => {
  const mix = ([r, g, b]: Rgb): Rgb => [0.2 + 0.5 * r - 0.1 * g, 0.7 * g + 0.3 * b, 1 - b + 0.25 * r]
  const cube = cubeOf(4, mix)
  const random = randomFrom('matrix')
  for (let n = 0; n < 200; n++) {
    const colour: Rgb = [random(), random(), random()]
    expectNear(through({ cube }, colour)[0]!, mix(colour), 1e-6)
  }
})

test('greys stay on the line from grey to grey, whatever the colours beside them do', () => {
  const random = randomFrom('greys')
  const cube = cubeOf(5, ([r, g, b]) =>
    r === g && g === b ? [r ** 2, r ** 2, r ** 2] : [random(), random(), random()],
  )
  for (const level of [0, 0.1, 0.25, 0.4, 0.77, 1]) {
    const [found] = through({ cube }, [level, level, level])
    expect(found![1]).toBe(found![0])
    expect(found![2]).toBe(found![0])
  }
})

test('entries come out as they are, and beyond the domain its edge', () => {
  const cube = cubeOf(3, ([r, g, b]) => [b, r, g])
  expect(through({ cube }, [0.5, 0, 1], [9, -9, 0.5], [1, 1, 1])).toEqual([
    [1, 0.5, 0],
    [0.5, 1, 0],
    [1, 1, 1],
  ])
})

test('what is no number is taken for the lower edge, what is infinite for its own', () => {
  const cube = cubeOf(2, (at) => at)
  expect(through({ cube }, [Number.NaN, Infinity, -Infinity])).toEqual([[0, 1, 0]])
})

test('curves come first, each channel by its own, straight between entries', () => {
  const curves: Table = { ...UNIT, size: 3, values: Float32Array.of(0, 1, 0, 0.25, 0.5, 0.5, 1, 0, 4) }
  const [alone] = through({ curves }, [0.25, 0.25, 0.75])
  expect(alone).toEqual([0.125, 0.75, 2.25])
  const [both] = through({ curves, cube: cubeOf(2, ([r, g, b]) => [g, b, r]) }, [0.25, 0.25, 0.75])
  expect(both).toEqual([0.75, 1, 0.125])
})
