// A wall painted as a camera that turns would show it, with grain and somebody before it: the transform is known to the
// last digit, as the wall is a formula that no filter has touched.
import { describe, expect, it } from 'vitest'
import { Workspace } from '../../src/kernels/workspace.js'
import { layPlanar } from '../../src/match/planar.js'
import { planarDonor, preparePlanar } from '../../src/match/planar-picture.js'
import type { Model } from '../../src/match/planar-step.js'
import { type Plane, plane } from '../../src/raster/plane.js'
import { apply, compose, IDENTITY, invert, shift, type Transform } from '../../src/raster/transform.js'
import { roughWall } from '../rough-wall.js'
import { normal } from '../synthetic.js'

const WIDTH = 320
const HEIGHT = 240
const workspace = new Workspace()

function seenUnder(toPlate: Transform, grain: number, key: number): Plane {
  const out = plane(0, 0, WIDTH, HEIGHT)
  const back = invert(toPlate)
  const next = normal(key)
  for (let y = 0, i = 0; y < HEIGHT; y++)
    for (let x = 0; x < WIDTH; x++, i++) {
      const p = apply(back, x, y)
      out.data[i] = roughWall(p.x, p.y) + grain * next()
    }
  return out
}

/** Length of the place error, RMS over the picture, pixels. */
function errorOf(found: Transform, truth: Transform): number {
  let sum = 0
  let n = 0
  for (let y = 0; y < HEIGHT; y += 8)
    for (let x = 0; x < WIDTH; x += 8) {
      const [a, b] = [apply(found, x, y), apply(truth, x, y)]
      sum += (a.x - b.x) ** 2 + (a.y - b.y) ** 2
      n++
    }
  return Math.sqrt(sum / n)
}

/** H = K R inverse(K) with K of focal length f about the middle: Hartley and Zisserman, section 8.4. */
function turned(pan: number, tilt: number, roll: number, f = 400): Transform {
  const [cp, sp, ct, st, cr, sr] = [pan, tilt, roll].flatMap((a) => [Math.cos(a), Math.sin(a)])
  const aboutY: Transform = [cp, 0, sp, 0, 1, 0, -sp, 0, cp]
  const aboutX: Transform = [1, 0, 0, 0, ct, -st, 0, st, ct]
  const aboutZ: Transform = [cr, -sr, 0, sr, cr, 0, 0, 0, 1]
  const k: Transform = [f, 0, WIDTH / 2, 0, f, HEIGHT / 2, 0, 0, 1]
  return compose(k, compose(aboutZ, compose(aboutX, compose(aboutY, invert(k)))))
}

const everywhere = new Float32Array(WIDTH * HEIGHT).fill(1)
const known = new Uint8Array(WIDTH * HEIGHT).fill(1)

function laid(reference: Plane, donor: Plane, model: Model, start: Transform = IDENTITY) {
  const prepared = preparePlanar(workspace, reference, everywhere)!
  return layPlanar(prepared, planarDonor(workspace, donor, known, prepared.knee), start, model)
}

describe('a picture laid on another under a plane transform', () => {
  const reference = seenUnder(IDENTITY, 0.02, 1)
  const cases: [string, Model, Transform][] = [
    ['a shift of a few pixels', 'shift', shift(6.3, -4.45)],
    [
      'a roll of two degrees with a zoom of four per cent',
      'similarity',
      compose(
        shift(WIDTH / 2, HEIGHT / 2),
        compose(
          [
            1.04 * Math.cos(0.035),
            -1.04 * Math.sin(0.035),
            3,
            1.04 * Math.sin(0.035),
            1.04 * Math.cos(0.035),
            -2,
            0,
            0,
            1,
          ],
          shift(-WIDTH / 2, -HEIGHT / 2),
        ),
      ),
    ],
    ['a camera that pans, tilts and rolls about its lens', 'homography', turned(0.02, -0.015, 0.02)],
  ]
  for (const [what, model, truth] of cases) {
    it(`is found to a fiftieth of a pixel: ${what}`, () => {
      const donor = seenUnder(invert(truth), 0.02, 2)
      const found = laid(reference, donor, model)!
      expect(errorOf(found.transform, truth)).toBeLessThan(0.02)
      expect(found.ncc).toBeGreaterThan(0.5)
    })
  }

  it('is not drawn away by somebody who crosses a fifth of it', () => {
    const truth = turned(0.015, 0.01, -0.01)
    const donor = seenUnder(invert(truth), 0.02, 3)
    for (let y = 0; y < HEIGHT; y++)
      for (let x = 90; x < 154; x++) donor.data[y * WIDTH + x] = -4 + 0.5 * roughWall(3 * x + 500, 2 * y)
    const found = laid(reference, donor, 'homography')!
    expect(errorOf(found.transform, truth)).toBeLessThan(0.04)
  })

  it('has an error that its own sigma tells of', () => {
    const errors: number[] = []
    const told: number[] = []
    for (let k = 0; k < 6; k++) {
      const truth = turned(0.004 * k, -0.003 * k, 0.002 * k)
      const found = laid(reference, seenUnder(invert(truth), 0.08, 10 + k), 'homography')!
      errors.push(errorOf(found.transform, truth))
      told.push(found.sigmaOver({ x: 0, y: 0, w: WIDTH, h: HEIGHT }))
    }
    const mean = (v: number[]) => v.reduce((a, b) => a + b) / v.length
    const ratio = mean(errors) / mean(told)
    expect(ratio).toBeGreaterThan(0.2)
    expect(ratio).toBeLessThan(2)
  })

  it('is followed on nothing where it is flat', () => {
    expect(preparePlanar(workspace, plane(0, 0, WIDTH, HEIGHT), everywhere)).toBeNull()
  })

  it('of another wall correlates with nothing', () => {
    const other = plane(0, 0, WIDTH, HEIGHT)
    for (let y = 0, i = 0; y < HEIGHT; y++)
      for (let x = 0; x < WIDTH; x++, i++) other.data[i] = roughWall(1.3 * y + 900, 1.1 * x + 700)
    const found = laid(reference, other, 'homography')
    expect(found?.ncc ?? 0).toBeLessThan(0.3)
  })
})
