// A field of light against its definition, a power for every pixel.
import { expect, test } from 'vitest'
import { Workspace } from '../../../src/kernels/workspace.js'
import { lightByField } from '../../../src/repair/hide/lit-by-field.js'
import { random } from '../../synthetic.js'

const workspace = new Workspace()
const window = { x: 37, y: 12, w: 61, h: 44 }

test.each([2, 4])('a field of %d terms is what its powers say, pixel by pixel', (terms) => {
  const even = random(terms)
  const rgb = () => [even() - 0.5, even() - 0.5, even() - 0.5] as [number, number, number]
  const field = { x: 70.3, y: 30.8, span: 40, stops: Array.from({ length: terms }, rgb) }
  const data = Float32Array.from({ length: 3 * window.w * window.h }, () => even())
  const lit = data.slice()
  lightByField(workspace, lit, window, field, lit)
  for (let i = 0; i < data.length; i++) {
    const pixel = Math.floor(i / 3)
    const u = ((pixel % window.w) + window.x - field.x) / field.span
    const v = (Math.floor(pixel / window.w) + window.y - field.y) / field.span
    const values = [u, v, u * u - v * v, 2 * u * v]
    const stops = field.stops.reduce((sum, term, k) => sum + term[i % 3] * values[k], 0)
    expect(lit[i] / (data[i] * 2 ** stops)).toBeCloseTo(1, 5)
  }
})
