// Outside truth for the membrane: SciPy's sparse direct solver (fixtures/laplace/make.py wrote down what it finds).
import { describe, expect, test } from 'vitest'
import reference from '../../fixtures/laplace/laplace.json' with { type: 'json' }
import { HELD, Laplace } from '../../src/repair/laplace.js'

const { width } = reference
const isHole = [...reference.hole].map((c) => c === '1')

describe('a surface held by given values', () => {
  test('over an irregular hole at the picture’s edge is that of SciPy’s sparse solver, and what holds it stays', () => {
    const value = Float32Array.from(reference.value, (v, i) => (isHole[i] ? Number.NaN : v))
    new Laplace(
      Float32Array.from(isHole, (free) => (free ? 0 : HELD)),
      width,
    ).solve(value)
    for (const [i, v] of value.entries())
      if (isHole[i]) expect(Math.abs(v - reference.held[i])).toBeLessThan(5e-4)
      else expect(v).toBe(Math.fround(reference.value[i]))
  })

  test('pulled to values of all weights is SciPy’s, too', () => {
    const value = Float32Array.from(reference.value)
    new Laplace(Float32Array.from(reference.pull), width).solve(value)
    for (const [i, v] of value.entries()) expect(Math.abs(v - reference.pulled[i])).toBeLessThan(5e-4)
  })

  test('over a hole of three hundred pixels goes on as a slope and a saddle do', () => {
    const side = 320
    const of = (i: number) => {
      const [x, y] = [(i % side) / side - 0.5, Math.floor(i / side) / side - 0.5]
      return 0.3 * x - 0.2 * y + x * x - y * y
    }
    const isFree = (i: number) => {
      const [x, y] = [i % side, Math.floor(i / side)]
      return x > 5 && y > 5 && x < side - 5 && y < side - 5
    }
    const all = Float32Array.from({ length: side * side }, (_, i) => i)
    const value = all.map((i) => (isFree(i) ? 0 : of(i)))
    new Laplace(
      all.map((i) => (isFree(i) ? 0 : HELD)),
      side,
    ).solve(value)
    for (let i = 0; i < value.length; i++) expect(Math.abs(value[i] - of(i))).toBeLessThan(2e-3)
  })

  test('is 0 where nothing pulls at all', () => {
    const value = new Float32Array(35).fill(Number.NaN)
    new Laplace(new Float32Array(35), 7).solve(value)
    expect(new Set(value)).toEqual(new Set([0]))
  })
})
