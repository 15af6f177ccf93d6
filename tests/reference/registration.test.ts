// Outside truth for the 2D offset: pictures shifted by SciPy by a known part of a pixel (Fourier and fifth-order spline),
// and the whole-pixel answer of scikit-image's masked registration (D. Padfield, IEEE TIP 2012) to the same masks.
// fixtures/registration/make.py made both.
import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import cases from '../../fixtures/registration/cases.json' with { type: 'json' }
import { Workspace } from '../../src/kernels/workspace.js'
import { align } from '../../src/match/align.js'
import { prepareReference } from '../../src/match/reference.js'
import type { Plane } from '../../src/raster/plane.js'

const workspace = new Workspace()

/** The accuracy that a patch needs: beyond it the edges of a repair shimmer. */
const TOLERANCE_PX = 0.05

function read(name: string): Float32Array {
  const bytes = readFileSync(new URL(`../../fixtures/registration/${name}.bin`, import.meta.url))
  return new Float32Array(bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.byteLength))
}

describe.each(cases)('$name', ({ name, width, height, reach, hole, dx, dy, maskedWholePixels }) => {
  const target: Plane = { x: 0, y: 0, width, height, data: read(`${name}.target`) }
  const donor: Plane = {
    x: -reach,
    y: -reach,
    width: width + 2 * reach,
    height: height + 2 * reach,
    data: read(`${name}.donor`),
  }
  const [left, top, w, h] = hole
  const weight = Float32Array.from({ length: width * height }, (_, i) => {
    const x = i % width
    const y = Math.floor(i / width)
    return x >= left && x < left + w && y >= top && y < top + h ? 0 : 1
  })
  const found = align(workspace, prepareReference(workspace, target, weight, reach), donor, reach)!

  test('the shift is found to a twentieth of a pixel though something stands in the hole', () => {
    expect(Math.abs(found.dx - dx)).toBeLessThan(TOLERANCE_PX)
    expect(Math.abs(found.dy - dy)).toBeLessThan(TOLERANCE_PX)
  })

  test("it is the sub-pixel place next to scikit-image's masked whole-pixel answer", () => {
    expect(Math.abs(found.dx - maskedWholePixels.dx)).toBeLessThan(0.5 + TOLERANCE_PX)
    expect(Math.abs(found.dy - maskedWholePixels.dy)).toBeLessThan(0.5 + TOLERANCE_PX)
  })
})
