// Outlines filled. Slow twin: the share of 64 x 64 points of each pixel that lie inside, by the winding number.
import { describe, expect, test } from 'vitest'
import { type Filled, fillOutlines } from '../../src/kernels/outline.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { randomFrom } from '../random.js'

const random = randomFrom('outlines')
const FINE = 64

/** Edges of a polygon, closed. */
function closed(points: readonly (readonly [number, number])[]): Float32Array {
  return Float32Array.from(points.flatMap((from, i) => [...from, ...points[(i + 1) % points.length]!]))
}

function isInside(edges: Float32Array, x: number, y: number): boolean {
  let winding = 0
  for (let i = 0; i < edges.length; i += 4) {
    const [x0, y0, x1, y1] = edges.subarray(i, i + 4)
    if (y0! <= y === y1! <= y) continue
    if (x0! + ((y - y0!) * (x1! - x0!)) / (y1! - y0!) < x) winding += y0! < y1! ? 1 : -1
  }
  return winding !== 0
}

function coveredOf(edges: Float32Array, x: number, y: number): number {
  let inside = 0
  for (let j = 0; j < FINE; j++)
    for (let i = 0; i < FINE; i++) if (isInside(edges, x + (i + 0.5) / FINE, y + (j + 0.5) / FINE)) inside++
  return inside / FINE ** 2
}

/** Codes of a black picture of w x h with white outlines in it, as they are given. */
function filled(w: number, h: number, boxes: readonly Omit<Filled, 'grey'>[]): Uint8Array {
  const samples = new Uint8Array(3 * w * h)
  fillOutlines(
    new Workspace(),
    samples,
    w,
    boxes.map((box) => ({ ...box, grey: 255 })),
  )
  return samples.filter((_, i) => i % 3 === 0)
}

const SHAPES: readonly [what: string, edges: Float32Array][] = [
  [
    'a square on whole pixels',
    closed([
      [1, 1],
      [5, 1],
      [5, 4],
      [1, 4],
    ]),
  ],
  [
    'a square between pixels',
    closed([
      [1.25, 1.5],
      [5.75, 1.5],
      [5.75, 4.125],
      [1.25, 4.125],
    ]),
  ],
  [
    'less than a pixel',
    closed([
      [2.2, 2.3],
      [2.6, 2.4],
      [2.4, 2.9],
    ]),
  ],
  [
    'a flat wedge',
    closed([
      [0, 0],
      [12, 3.1],
      [12, 3.6],
    ]),
  ],
  [
    'a steep wedge that runs up',
    closed([
      [3, 0],
      [3.4, 9],
      [3.9, 9],
    ]),
  ],
  [
    'as large as its box',
    closed([
      [0, 0],
      [12, 0],
      [12, 9],
      [0, 9],
    ]),
  ],
  ...Array.from({ length: 20 }, (_, i): [string, Float32Array] => [
    `triangle ${i}`,
    closed([0, 1, 2].map(() => [12 * random(), 9 * random()] as const)),
  ]),
]

describe('a filled outline', () => {
  test.each(SHAPES)('%s covers of each pixel what its points tell', (_, edges) => {
    const outline = { edges, scale: 1, x: 3, y: 2 }
    const codes = filled(20, 13, [{ outlines: [outline], left: 3, top: 2, width: 12, height: 9 }])
    for (let y = 0; y < 13; y++)
      for (let x = 0; x < 20; x++) {
        const isIn = x >= 3 && x < 15 && y >= 2 && y < 11
        const truth = isIn ? coveredOf(edges, x - 3, y - 2) : 0
        expect(Math.abs(codes[20 * y + x]! / 255 - truth)).toBeLessThan(0.02)
      }
  })

  test('has a hole where its inner outline runs the other way, and none where it runs the same way', () => {
    const outer = [
      [0, 0],
      [9, 0],
      [9, 9],
      [0, 9],
    ] as const
    const inner = [
      [3, 3],
      [6, 3],
      [6, 6],
      [3, 6],
    ] as const
    for (const [ring, code] of [
      [[...inner].reverse(), 0],
      [inner, 255],
    ] as const) {
      const edges = Float32Array.from([...closed(outer), ...closed(ring)])
      const box = { outlines: [{ edges, scale: 1, x: 0, y: 0 }], left: 0, top: 0, width: 9, height: 9 }
      expect(filled(9, 9, [box])[9 * 4 + 4]).toBe(code)
    }
  })

  test('is as large as its scale, and boxes that share rows are filled each for itself', () => {
    const edges = closed([
      [0, 0],
      [1, 0],
      [1, 1],
      [0, 1],
    ])
    const box = (x: number, y: number, scale: number) => {
      return { outlines: [{ edges, scale, x, y }], left: x, top: y, width: scale, height: scale }
    }
    const codes = filled(40, 700, [box(20, 600, 5), box(3, 1, 4), box(10, 2, 7), box(30, 250, 9)])
    expect(codes.reduce((sum, code) => sum + code, 0)).toBe(255 * (25 + 16 + 49 + 81))
    for (const at of [40 * 604 + 24, 40 * 4 + 6, 40 * 8 + 16, 40 * 258 + 38]) expect(codes[at]).toBe(255)
  })
})
