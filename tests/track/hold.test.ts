import { describe, expect, test } from 'vitest'
import { Workspace } from '../../src/kernels/workspace.js'
import { align } from '../../src/match/align.js'
import { prepareReference } from '../../src/match/reference.js'
import { noiseSigma } from '../../src/match/texture.js'
import { grow } from '../../src/raster/rect.js'
import { dropPlain, holdOf } from '../../src/track/hold.js'
import { texturedWall, type Wall, wallPlane } from '../synthetic.js'

const workspace = new Workspace()
const RECT = { x: 0, y: 0, w: 128, h: 128 }
const wall = texturedWall(5)
const plain: Wall = () => 0.2
/** A wall only in a corner of the picture, the rest plain. */
const cornered: Wall = (x, y) => (x < 40 && y < 40 ? wall(x, y) : 0.2)
const all = () => new Float32Array(RECT.w * RECT.h).fill(1)

function holdIn(of: Wall, noise = 0.05) {
  const picture = wallPlane(of, RECT, { noise, start: 2 })
  const grain = noiseSigma(workspace, picture.data, RECT.w, all())
  return holdOf(prepareReference(workspace, picture, all(), 8), grain)
}

describe('how firmly a picture will hold the camera, from its texture and its grain', () => {
  test('is told to a factor of two: the error that alignment makes on frames with other grain', () => {
    const noise = 0.15
    const told = holdIn(wall, noise).sigma
    const prepared = prepareReference(workspace, wallPlane(wall, RECT, { noise, start: 2 }), all(), 4)
    let sum = 0
    const tries = 16
    for (let k = 0; k < tries; k++) {
      const found = align(workspace, prepared, wallPlane(wall, grow(RECT, 4), { noise, start: 50 + k }), 4)!
      sum += (found.dx * found.dx + found.dy * found.dy) / 2
    }
    const real = Math.sqrt(sum / tries)
    expect(told / real).toBeGreaterThan(0.5)
    expect(told / real).toBeLessThan(2)
  })

  test('of a plain wall is not at all, however strong the grain', () => {
    for (const noise of [0.002, 0.02, 0.1]) expect(holdIn(plain, noise).sigma).toBeGreaterThan(0.05)
  })

  test('of one straight edge is not at all: along the edge nothing holds', () => {
    expect(holdIn((x) => (x < 64 ? 0.1 : 0.4)).sigma).toBeGreaterThan(0.05)
  })

  test('of a plain wall with something in one corner is not robust: that may be somebody', () => {
    const { sigma, robust } = holdIn(cornered)
    expect(sigma).toBeLessThan(0.02)
    expect(robust).toBeGreaterThan(0.02)
    expect(holdIn(wall).robust).toBeLessThan(0.02)
  })
})

test('plain tiles are taken out of the weight, and those with texture stay', () => {
  const weight = all()
  dropPlain(wallPlane(cornered, RECT, { noise: 0.05, start: 4 }), weight, 0.05)
  expect(weight[10 * RECT.w + 10]).toBe(1)
  expect(weight[100 * RECT.w + 100]).toBe(0)
  expect(weight[10 * RECT.w + 100]).toBe(0)
})
