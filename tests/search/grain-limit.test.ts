// How much a surround has to correlate where grain lies over it: two exposures of the same wall correlate at the wall's share
// of what varies in either (C. Spearman, The Proof and Measurement of Association between Two Things, 1904). Planted truth.
import { describe, expect, test } from 'vitest'
import { Workspace } from '../../src/kernels/workspace.js'
import { nccOfSums, residualOfSums, sumPair } from '../../src/match/ncc.js'
import { limitsOf } from '../../src/search/measures.js'
import { judge } from '../../src/search/score.js'
import { standing } from '../../src/sheet/data/measures.js'
import { texturedWall, wallPlane } from '../synthetic.js'
import { FAULTLESS } from './faultless.js'

const workspace = new Workspace()
const RECT = { x: 0, y: 0, w: 96, h: 96 }
const ONE = new Float32Array(RECT.w * RECT.h).fill(1)

interface Exposed {
  /** Grain, stops. */
  readonly noise: number
  /** The wall, and that of the donor. */
  readonly start: number
  readonly of?: number
  readonly dx?: number
}

/** A wall under grain against another exposure of it that lies `dx` pixels off; all on the surround. */
function exposures({ noise, dx = 0, start, of = start }: Exposed) {
  const target = wallPlane(texturedWall(start), RECT, { noise, start: 100 + start }).data
  const donor = wallPlane(texturedWall(of), RECT, { noise, dx, start: 200 + start }).data
  const sums = sumPair(workspace, target, donor, ONE)
  return { ncc: nccOfSums(sums)!, seam: residualOfSums(sums)! / (Math.SQRT2 * noise) }
}

const STARTS = [1, 2, 3, 4]
const verdict = (m: { ncc: number; seam: number }) => judge({ ...FAULTLESS, ...m }, 'run').verdict

/** Power of what varies in a wall over that with its grain. */
function wallShare(start: number, noise: number): number {
  const { data } = wallPlane(texturedWall(start), RECT)
  const mean = data.reduce((sum, v) => sum + v, 0) / data.length
  const power = data.reduce((sum, v) => sum + (v - mean) ** 2, 0) / data.length
  return power / (power + noise ** 2)
}

describe('the limit on the correlation of a surround', () => {
  test('is 0.8 of what two exposures of the same wall correlate at under its grain', () => {
    for (const start of STARTS)
      for (const noise of [0.1, 0.2, 0.4]) {
        const [low] = limitsOf('ncc', exposures({ start, noise })).holds
        expect(low / 0.8).toBeCloseTo(wallShare(start, noise), 1.5)
      }
  })

  test('lets an exact fit hold up under grain that takes its correlation below 0.8', () => {
    for (const start of STARTS) {
      const seen = exposures({ start, noise: 0.4 })
      expect(seen.ncc).toBeLessThan(0.78)
      expect(verdict(seen)).toBe('holds up')
      expect(standing('ncc', { ...FAULTLESS, ...seen }, 'run')).toBe('holds')
    }
  })

  test('lets no wrong fit hold up, whatever grain lies over it: neither two pixels off nor another wall', () => {
    for (const start of STARTS)
      for (const noise of [0.05, 0.1, 0.2, 0.4, 0.6, 0.8, 1.2]) {
        expect(verdict(exposures({ start, noise, dx: 2.5 }))).not.toBe('holds up')
        expect(verdict(exposures({ start, noise, of: start + 9 }))).not.toBe('holds up')
      }
  })

  test('says where grain is most of what varies that nothing tells of the fit, and of what differs by more than grain that it will not hold', () => {
    for (const start of STARTS) {
      // About a quarter of what varies is no grain.
      const sky = exposures({ start, noise: 1 })
      expect(sky.ncc).toBeLessThan(0.4)
      expect(verdict(sky)).toBe('needs work')
    }
    for (const start of STARTS)
      expect(verdict(exposures({ start, of: start + 9, noise: 0.05 }))).toBe('will not hold')
  })

  test('is 0.8 of what there is to correlate, and never falls to nothing where grain is most of what varies', () => {
    for (const share of [0.5, 0.6, 0.7, 0.9, 1]) {
      const [low] = limitsOf('ncc', { ncc: share, seam: 1 }).holds
      expect(low).toBeCloseTo(0.8 * share, 9)
    }
    expect(limitsOf('ncc', { ncc: 0.49, seam: 1 }).holds[0]).toBe(0.8)
    expect(limitsOf('ncc', { ncc: 0.7, seam: null }).holds[0]).toBe(0.8)
    expect(limitsOf('ncc', { ncc: null, seam: 1 }).holds[0]).toBe(0.8)
  })
})
