// What frames differ by at each place, against the same told straight in doubles.
import { expect, test } from 'vitest'
import { differencesOver, gatherPlaces, means, pitchOf, placeFactors } from '../../src/kernels/places.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { randomFrom } from '../random.js'

const workspace = new Workspace()
const LENGTHS = [1, 2, 3, 4, 5, 15, 16, 210, 211]

function planesOf(length: number, count: number) {
  const random = randomFrom(`places ${length} ${count}`)
  const planes = Array.from({ length: count }, () => Float32Array.from({ length }, () => 3 * random() - 1))
  const together = new Float32Array(pitchOf(length) * count).fill(Number.NaN)
  for (const [k, plane] of planes.entries()) together.set(plane, k * pitchOf(length))
  return { random, planes, together }
}

test.each(LENGTHS)('means and differences of %i samples, to the last bit', (length) => {
  const [a, b, sigma] = planesOf(length, 3).planes
  if (length > 4) {
    a[1] = Number.NaN
    b[2] = Number.POSITIVE_INFINITY
    sigma[3] = 0
    sigma[4] = Number.NaN
  }
  sigma[0] = 0.5
  const frozen = [a, b, sigma].map((plane) => plane.slice())
  const mean = new Float32Array(length)
  means(workspace, a, b, mean)
  expect(mean).toEqual(Float32Array.from(a, (v, i) => (v + b[i]) / 2))
  const out = new Float32Array(length)
  differencesOver(workspace, a, b, sigma, out)
  const wanted = Float32Array.from(a, (v, i) => {
    const over = (v - b[i]) / sigma[i]
    return sigma[i] > 0 && Number.isFinite(over) ? over : 0
  })
  expect(out).toEqual(wanted)
  expect(wanted[0]).not.toBe(0)
  expect([a, b, sigma]).toEqual(frozen)
})

test.each(LENGTHS)('of %i pixels those that are trusted are gathered', (length) => {
  const { random, planes, together } = planesOf(length, 5)
  const trusted = Float32Array.from({ length }, (_, i) => (i === 0 || random() < 0.6 ? 1 : 0))
  const out = new Float32Array(Math.ceil(length / 3) * 5)
  const count = gatherPlaces(workspace, together, trusted, 3, 0.25, out)
  const wanted: number[] = []
  for (let i = 0; i < length; i += 3)
    if (trusted[i] > 0) for (const plane of planes) if (plane[i] > 0.25) wanted.push(plane[i])
  expect([...out.subarray(0, count)]).toEqual(wanted)
  expect(count).toBeGreaterThan(0)
})

test.each(LENGTHS)('factors of %i pixels, to the last bit', (length) => {
  const { planes, together } = planesOf(length, 5)
  const factors = { limit: 1.5, unit: 0.125, most: 2 }
  const out = new Float32Array(length)
  placeFactors(workspace, together, factors, out)
  const wanted = Float32Array.from({ length }, (_, i) => {
    let energy = 0
    for (const plane of planes) energy += Math.min(plane[i], 1.5) / 5
    return energy > 0 ? Math.min(2, Math.sqrt(energy / 0.125)) : 0
  })
  expect(out).toEqual(wanted)
  placeFactors(workspace, together, { ...factors, unit: 0 }, out)
  expect(out.every((v) => v === 0)).toBe(true)
})
