import { describe, expect, test } from 'vitest'
import { detailOf } from '../../src/match/edge-of-light.js'
import { INVALID, VALID } from '../../src/match/log-luminance.js'
import { tileGrid } from '../../src/match/tiles.js'
import { normal, texturedWall } from '../synthetic.js'

const W = 40
const H = 32
const grid = tileGrid(new Float32Array(W * H).fill(1), W)
const tiles = Array.from({ length: grid.columns * grid.rows }, (_, tile) => tile)
const wall = texturedWall(4)
const cloth = texturedWall(77)
const at = (of: (x: number, y: number) => number) =>
  Float32Array.from({ length: W * H }, (_, i) => of(i % W, Math.floor(i / W)))
const level = at((x, y) => Math.log2(wall(x, y)))
const valid = new Uint8Array(W * H).fill(VALID)
/** A shadow of a stop whose edge runs aslant through the tiles. */
const shadow = (x: number, y: number) => (x + 0.4 * y < 22 ? -1 : 0)

/** Share of the wall's detail that a picture shows, over all tiles. */
function share(aligned: Float32Array): number {
  const all = tiles.map((tile) => detailOf({ aligned, level, validity: valid }, grid, tile))
  return all.reduce((s, d) => s + d.shown, 0) / all.reduce((s, d) => s + d.expected, 0)
}

describe('the finest detail of a wall', () => {
  test('is all there on both sides of a hard shadow’s edge', () => {
    expect(share(at((x, y) => level[y * W + x] + shadow(x, y)))).toBeCloseTo(1, 1)
  })

  test('is there in grain', () => {
    const grain = normal(3)
    expect(Math.abs(share(level.map((v) => v + 0.03 * grain())) - 1)).toBeLessThan(0.1)
  })

  test('is not there on cloth, nor on paint', () => {
    expect(Math.abs(share(at((x, y) => Math.log2(cloth(x, y)))))).toBeLessThan(0.3)
    expect(share(new Float32Array(W * H).fill(-2))).toBeCloseTo(0, 5)
  })

  test('is what a slow twin adds up, holes left out', () => {
    const grain = normal(9)
    const aligned = level.map((v, i) => v + shadow(i % W, Math.floor(i / W)) + 0.02 * grain())
    const validity = valid.map((v, i) => (i % 37 === 5 ? INVALID : v))
    const above = (picture: Float32Array, x: number, y: number) => {
      let sum = 0
      for (const v of [-1, 0, 1]) for (const u of [-1, 0, 1]) sum += picture[(y + v) * W + x + u] / 9
      return picture[y * W + x] - sum
    }
    for (const tile of tiles) {
      const pixels: [number, number][] = []
      for (let y = 1; y < H - 1; y++)
        for (let x = 1; x < W - 1; x++)
          if (Math.floor(y / grid.size) * grid.columns + Math.floor(x / grid.size) === tile)
            pixels.push([x, y])
      const change = aligned.map((v, i) => v - level[i])
      const seen = pixels.map(([x, y]) => y * W + x).filter((i) => validity[i] === VALID)
      const step = 0.4 * (Math.max(...seen.map((i) => change[i])) - Math.min(...seen.map((i) => change[i])))
      let [expected, shown] = [0, 0]
      for (const [x, y] of pixels) {
        const i = y * W + x
        const about = [-1, 0, 1].flatMap((v) => [-1, 0, 1].map((u) => i + v * W + u))
        if (about.some((k) => validity[k] === INVALID)) continue
        const changes = about.map((k) => change[k])
        if (Math.max(...changes) - Math.min(...changes) > step) continue
        expected += above(level, x, y) ** 2
        shown += above(level, x, y) * above(aligned, x, y)
      }
      const ours = detailOf({ aligned, level, validity }, grid, tile)
      expect(ours.expected).toBeCloseTo(expected, 5)
      expect(ours.shown).toBeCloseTo(shown, 5)
    }
  })
})
