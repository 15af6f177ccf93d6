// One validator for every result, whatever footage it came from: the schema, and what the words of the design promise.
import { expect } from 'vitest'
import { type Candidate, type Result, resultSchema } from '../../src/search/result.js'

/** What holds up before what needs work, before what will not hold; among equals the higher score. */
export function expectBestFirst(candidates: readonly Pick<Candidate, 'score' | 'verdict'>[]): void {
  const places = candidates.map(
    ({ verdict, score }) => 1000 * ['holds up', 'needs work', 'will not hold'].indexOf(verdict) - score,
  )
  expect(places).toEqual([...places].sort((a, b) => a - b))
}

/** @param there frame numbers per donor plate */
export function expectValid(result: Result, there: readonly (readonly number[])[]): void {
  // As it would come back from disk: JSON makes NaN and infinity into null, which the schema refuses where it counts.
  const back = resultSchema.parse(JSON.parse(JSON.stringify(result)))
  expect(back).toEqual(JSON.parse(JSON.stringify(result)))
  expectBestFirst(result.candidates)
  expect(new Set(result.candidates.map((c) => c.id)).size).toBe(result.candidates.length)
  for (const candidate of result.candidates) expectCandidate(candidate, result, there)
}

function expectCandidate(c: Candidate, result: Result, there: readonly (readonly number[])[]): void {
  const targets = c.frames.map((f) => f.target)
  expect(targets).toEqual(result.target.frames.filter((f) => targets.includes(f)))
  for (const f of c.frames) {
    expect(there[f.plate]).toContain(f.donor)
    expect(f.plate === 0 && f.donor === f.target).toBe(false)
    expect(Math.max(Math.abs(f.dx), Math.abs(f.dy))).toBeLessThanOrEqual(result.reach + 0.5)
    for (const g of f.gain) expect(g).toBeGreaterThan(0)
    if (f.ncc !== null) expect(Math.abs(f.ncc)).toBeLessThanOrEqual(1)
    if (f.clean !== null) expect(f.clean >= 0 && f.clean <= 1).toBe(true)
    for (const shares of [f.stack, f.pieces])
      if (shares) expect(shares.reduce((sum, s) => sum + s.weight, 0)).toBeCloseTo(1, 6)
  }
  const donors = c.frames.map((f) => f.donor)
  const constants = {
    hold: () => donors,
    run: () => c.frames.map((f) => f.donor - f.target),
    mirror: () => c.frames.map((f) => f.donor + f.target),
    relay: () => [0],
    stack: () => [0],
    mosaic: () => [0],
  }[c.kind]()
  expect(new Set(constants).size).toBe(1)
  const { id, kind } = c
  if (kind === 'run') {
    expect(c.timeOffset).toBe(constants[0])
    expect(id).toMatch(constants[0] < 0 ? /^run-\d/ : /^run\+\d/)
  } else expect(c.timeOffset).toBeNull()
  if (kind === 'hold' || kind === 'mirror') expect(id.startsWith(`${kind}-${constants[0]}`)).toBe(true)
  if (kind === 'relay') expect(new Set(donors).size).toBeGreaterThan(1)
  if (kind === 'stack') expect(c.frames.every((f) => (f.stack?.length ?? 0) > 1)).toBe(true)
  expect(c.map !== undefined).toBe(kind === 'mosaic')
  if (kind === 'mosaic') expect(c.frames.every((f) => f.map && (f.pieces?.length ?? 0) > 1)).toBe(true)
  expect(c.why).not.toBe('')
}
