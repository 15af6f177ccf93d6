// From a file's primaries to those of BT.709, against published matrices and what must hold for any primaries.
import { describe, expect, test } from 'vitest'
import { BT709_CHROMATICITIES, type Matrix, toBt709 } from '../../src/colour/primaries.js'

const D65 = [0.3127, 0.329] as const
/** ACES white, S-2014-004. */
const D60 = [0.32168, 0.33767] as const
const AP1 = [0.713, 0.293, 0.165, 0.83, 0.128, 0.044, ...D60] as const
const AP0 = [0.7347, 0.2653, 0, 1, 0.0001, -0.077, ...D60] as const
const P3 = [0.68, 0.32, 0.265, 0.69, 0.15, 0.06] as const
const BT2020 = [0.708, 0.292, 0.17, 0.797, 0.131, 0.046, ...D65] as const

function expectMatrix(found: Matrix | null, wanted: readonly number[], within: number): void {
  expect(found).toHaveLength(9)
  for (const [i, v] of wanted.entries())
    expect(Math.abs(found![i]! - v), `element ${i}: ${found![i]}`).toBeLessThan(within)
}

describe('the matrix to BT.709', () => {
  test('of BT.2020 is the one that ITU-R BT.2407 prints', () => {
    // BT.2407-0, section 2: the matrix from linear BT.2020 to linear BT.709
    const printed = [1.6605, -0.5876, -0.0728, -0.1246, 1.1329, -0.0083, -0.0182, -0.1006, 1.1187]
    expectMatrix(toBt709(BT2020), printed, 6e-5)
  })

  test('keeps white white whatever the white is, ACES’ own, D65 or that of a projector', () => {
    for (const primaries of [AP1, AP0, [...P3, ...D65], [...P3, 0.314, 0.351], BT2020]) {
      const matrix = toBt709(primaries)!
      for (let row = 0; row < 9; row += 3)
        expect(matrix[row]! + matrix[row + 1]! + matrix[row + 2]!).toBeCloseTo(1, 9)
    }
  })

  test('is none where the primaries are BT.709’s own, as floats of an EXR header have them', () => {
    expect(toBt709(BT709_CHROMATICITIES)).toBeNull()
    expect(toBt709([...Float32Array.from(BT709_CHROMATICITIES)])).toBeNull()
  })

  test('is none where the primaries span no colours, or the white is no light', () => {
    expect(toBt709([0.3, 0.3, 0.3, 0.3, 0.3, 0.3, ...D65])).toBeNull()
    expect(toBt709([0, 0, 0, 0, 0, 0, 0, 0])).toBeNull()
    expect(toBt709([...BT709_CHROMATICITIES.slice(0, 6), 0.3, -0.3])).toBeNull()
    expect(toBt709([0.64, 0.33])).toBeNull()
  })
})
