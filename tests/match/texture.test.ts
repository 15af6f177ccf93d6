import { describe, expect, test } from 'vitest'
import { Workspace } from '../../src/kernels/workspace.js'
import { gradientEnergy, noiseSigma } from '../../src/match/texture.js'
import { normal } from '../synthetic.js'

const workspace = new Workspace()

const W = 90
const N = W * 80
const all = new Float32Array(N).fill(1)

function picture(sigma: number, texture: (x: number, y: number) => number = () => 0, start = 1) {
  const grain = normal(start)
  return Float32Array.from({ length: N }, (_, i) => texture(i % W, Math.floor(i / W)) + sigma * grain())
}

describe('grain', () => {
  test.each([0.005, 0.03, 0.2])('of %d stops is measured within 5 per cent', (sigma) => {
    expect(noiseSigma(workspace, picture(sigma), W, all)! / sigma).toBeCloseTo(1, 1)
  })

  test('is measured under a slope and slow texture as on a flat wall', () => {
    const slope = picture(0.03, (x, y) => 0.05 * x - 0.02 * y + Math.sin(x / 9))
    expect(noiseSigma(workspace, slope, W, all)! / 0.03).toBeCloseTo(1, 1)
  })

  test('twice as strong measures twice', () => {
    const one = noiseSigma(workspace, picture(0.02), W, all)!
    expect(noiseSigma(workspace, picture(0.04), W, all)! / one).toBeCloseTo(2, 3)
  })

  test('is not measured where nothing is valid, and not on fewer than sixteen places', () => {
    const masked = all.map((_, i) => (i % W < 45 ? 1 : 0))
    const half = picture(0.03).map((v, i) => (i % W < 45 ? v : (i % 2) * 9))
    expect(noiseSigma(workspace, half, W, masked)! / 0.03).toBeCloseTo(1, 1)
    expect(noiseSigma(workspace, half, W, new Float32Array(N))).toBeNull()
    const few = all.map((_, i) => (i % W < 4 && i < 4 * W ? 1 : 0))
    expect(noiseSigma(workspace, half, W, few)).toBeNull()
  })

  test('of a picture one pixel wide or high can not be measured', () => {
    expect(noiseSigma(workspace, new Float32Array(40), 1, new Float32Array(40).fill(1))).toBeNull()
    expect(noiseSigma(workspace, new Float32Array(40), 40, new Float32Array(40).fill(1))).toBeNull()
  })
})

describe('gradient energy', () => {
  test('of a slope of (3, 4) is 25', () => {
    expect(
      gradientEnergy(
        workspace,
        picture(0, (x, y) => 3 * x + 4 * y),
        W,
        all,
      ),
    ).toBeCloseTo(25, 3)
  })

  test('of a blurred wall is less, of a flat one nothing', () => {
    const sharp = gradientEnergy(
      workspace,
      picture(0, (x) => Math.sin(x)),
      W,
      all,
    )
    const soft = gradientEnergy(
      workspace,
      picture(0, (x) => 0.5 * Math.sin(x)),
      W,
      all,
    )
    expect(soft / sharp).toBeCloseTo(0.25, 5)
    expect(gradientEnergy(workspace, picture(0), W, all)).toBe(0)
    expect(gradientEnergy(workspace, picture(1), W, new Float32Array(N))).toBe(0)
  })
})
