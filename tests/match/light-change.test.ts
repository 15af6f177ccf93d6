import { beforeAll, describe, expect, test } from 'vitest'
import { BESIDE, COVERED, classifyTiles, LIT, STEADY, UNSEEN } from '../../src/match/light-change.js'
import { INVALID, VALID } from '../../src/match/log-luminance.js'
import { surfaceCorrelation } from '../../src/match/surface.js'
import { measureTiles, referenceTiles, type TileGrid, tileChange, tileGrid } from '../../src/match/tiles.js'
import { loadOpenCv, maskedCoefficients, type OpenCv } from '../opencv.js'
import { normal, texturedWall } from '../synthetic.js'

const W = 96
const H = 64
const all = new Float32Array(W * H).fill(1)
const good = new Uint8Array(W * H).fill(VALID)
const grid = tileGrid(all, W)

/** log2 luminance of a textured wall, and a frame of it with grain and a change in stops. */
const wall = texturedWall(4)
const level = Float32Array.from({ length: W * H }, (_, i) => Math.log2(wall(i % W, Math.floor(i / W))))
function seen(change: (x: number, y: number) => number, seed = 1, sigma = 0.02): Float32Array {
  return withGrain(
    level.map((v, i) => v + change(i % W, Math.floor(i / W))),
    seed,
    sigma,
  )
}
function withGrain(picture: Float32Array, seed: number, sigma = 0.02): Float32Array {
  const grain = normal(seed)
  return picture.map((v) => v + sigma * grain())
}
/** What a lens leaves of a pixel: 1/4, 1/2, 1/4 of it and its neighbours, both ways. */
function blurred(at: (x: number, y: number) => number, x: number, y: number): number {
  let sum = 0
  for (const v of [-1, 0, 1])
    for (const u of [-1, 0, 1]) sum += (at(x + u, y + v) * (2 - Math.abs(u)) * (2 - Math.abs(v))) / 16
  return sum
}
function measured(picture: Float32Array, { light = 0, validity = good } = {}) {
  const out = tileChange(grid.measures)
  measureTiles(picture, light, validity, level, grid, out)
  return { ...out, shown: { aligned: picture, level, validity } }
}
const frames = Array.from({ length: 12 }, (_, k) => measured(seen(() => 0, 100 + k)))
const quiet = referenceTiles(frames, level, grid)
const kinds = (f: ReturnType<typeof measured>) => {
  const kind = new Uint8Array(f.change.length)
  classifyTiles(f, quiet, grid, kind, f.shown)
  return kind
}
/** Of a picture of another wall, on a grid of its own. */
const kindsOver = (over: TileGrid, unlit: Float32Array, picture: Float32Array) => {
  const change = (aligned: Float32Array) => {
    const out = tileChange(over.measures)
    measureTiles(aligned, 0, good, unlit, over, out)
    return out
  }
  const still = Array.from({ length: 12 }, (_, k) => change(withGrain(unlit, 100 + k)))
  const kind = new Uint8Array(over.columns * over.rows)
  const shown = { aligned: picture, level: unlit, validity: good }
  classifyTiles(change(picture), referenceTiles(still, unlit, over), over, kind, shown)
  return kind
}

describe('a change in stops', () => {
  // Hand-computed: log base 2 of the factor on the light.
  test.each([
    ['half the light is -1 stop', 0.5, -1],
    ['a quarter is -2', 0.25, -2],
    ['three quarters are -0.415', 0.75, -0.41504],
    ['half as much again is +0.585', 1.5, 0.58496],
  ])('%s', (_, factor, stops) => {
    const f = measured(level.map((v) => v + Math.log2(factor)))
    for (const c of f.change) expect(c).toBeCloseTo(stops, 4)
    for (const r of f.residual) expect(r).toBeLessThan(1e-3)
  })

  test('light that is matched counts as no change', () => {
    const f = measured(
      level.map((v) => v - 0.3),
      { light: 0.3 },
    )
    for (const c of f.change) expect(Math.abs(c)).toBeLessThan(1e-5)
  })

  test('a change that slopes across a tile leaves it smooth', () => {
    const f = measured(seen((x, y) => 0.01 * x - 0.02 * y, 1, 0))
    for (const r of f.residual) expect(r).toBeLessThan(1e-4)
  })

  test('what is left is grain, by its own measure', () => {
    const mean = quiet.residual.reduce((a, b) => a + b) / quiet.residual.length
    expect(Math.abs(mean / 0.02 - 1)).toBeLessThan(0.05)
  })

  test('holes say nothing, half of them and the tile is unseen', () => {
    const validity = good.map((v, i) => (i % W < 12 ? INVALID : v))
    const f = measured(
      seen(() => -0.5).map((v, i) => (validity[i] === INVALID ? Number.NaN : v)),
      { validity },
    )
    expect(kinds(f)[0]).toBe(UNSEEN)
    expect([...f.change].every(Number.isFinite)).toBe(true)
    expect(f.change[grid.columns - 1]).toBeCloseTo(-0.5, 1)
  })
})

describe('light or thing', () => {
  const shadow = (x: number, y: number) => {
    const t = Math.min(1, Math.max(0, (1 - Math.hypot(x - 48, y - 32) / 30) / 0.5))
    return -0.7 * t * t * (3 - 2 * t)
  }
  const cloth = texturedWall(77)

  test('a soft shadow is light everywhere', () => {
    const kind = kinds(measured(seen(shadow)))
    expect(kind).toContain(LIT)
    expect(kind).toContain(STEADY)
    expect(kind).not.toContain(COVERED)
  })

  describe.each([-0.5, -0.9, -1.4])('a shape of %d stops with an edge of a pixel or two', (stops) => {
    const inside = (x: number, y: number) =>
      Math.min(1, Math.max(0, 0.5 + (24 - Math.hypot(x - 48, 1.3 * (y - 32))) / 1.6))

    test('is light up to its edge where the wall goes on under it', () => {
      const kind = kinds(measured(seen((x, y) => stops * inside(x, y))))
      expect(kind).toContain(LIT)
      expect(kind).not.toContain(COVERED)
    })

    test('is light up to the edge of a mask that ends with the wall, where a dark frame is that it does not fall on', () => {
      // The wall begins and ends within tiles, and a lens blurs its edge.
      const isWall = (x: number, y: number) => x >= 10 && x < 85 && y >= 11 && y < 54
      const framed = (light: (x: number, y: number) => number) => {
        const light2d = (x: number, y: number) => (isWall(x, y) ? wall(x, y) * 2 ** light(x, y) : 0.03)
        return Float32Array.from({ length: W * H }, (_, i) =>
          Math.log2(blurred(light2d, i % W, Math.floor(i / W))),
        )
      }
      const masked = tileGrid(
        all.map((_, i) => (isWall(i % W, Math.floor(i / W)) ? 1 : 0)),
        W,
      )
      const unlit = framed(() => 0)
      const lit = framed((x, y) => (x + 0.3 * y < 50 ? stops : 0))
      const kind = kindsOver(masked, unlit, withGrain(lit, 1))
      expect(kind.filter((_, tile) => masked.weight[tile] > 0)).toContain(LIT)
      expect(kind).not.toContain(COVERED)
    })

    test('is a thing where it has a texture of its own, and where it has none', () => {
      for (const own of [(x: number, y: number) => Math.log2(cloth(x, y) / wall(x, y)), undefined]) {
        const onIt = (x: number, y: number) => stops + (own ? own(x, y) : -1.5 - level[y * W + x])
        const kind = kinds(measured(seen((x, y) => inside(x, y) * onIt(x, y))))
        expect(kind).toContain(COVERED)
        expect(kind.filter((k) => k === LIT).length).toBeLessThan(0.02 * kind.length)
      }
    })
  })

  test('grain alone changes nothing', () => {
    for (let k = 0; k < 10; k++)
      expect(new Set(kinds(measured(seen(() => 0, 500 + k))))).toEqual(new Set([STEADY]))
  })

  test('another surface is a thing, even one as bright as the wall; its neighbours are beside it', () => {
    const picture = seen(() => 0)
    for (let y = 20; y < 44; y++) for (let x = 30; x < 60; x++) picture[y * W + x] = Math.log2(cloth(x, y))
    const f = measured(picture)
    const kind = kinds(f)
    const at = (x: number, y: number) =>
      kind[Math.floor(y / grid.size) * grid.columns + Math.floor(x / grid.size)]
    expect(at(45, 32)).toBe(COVERED)
    expect(kind).toContain(BESIDE)
    expect(kind).not.toContain(LIT)
    expect(at(5, 5)).toBe(STEADY)
  })

  test('where a codec keeps less of the wall’s detail, or leaves on it stir, the wall is still there', () => {
    const { size } = grid
    const mean = new Float32Array(W * H)
    for (let y = 0; y < H; y++)
      for (let x = 0; x < W; x++) {
        const [left, top] = [x - (x % size), y - (y % size)]
        let sum = 0
        for (let v = 0; v < size; v++) for (let u = 0; u < size; u++) sum += level[(top + v) * W + left + u]
        mean[y * W + x] = sum / size ** 2
      }
    const isDull = (x: number, y: number) => x >= 24 && x < 72 && y >= 16 && y < 48
    const random = normal(31)
    const picture = seen(() => 0)
    for (let i = 0; i < W * H; i++)
      if (isDull(i % W, Math.floor(i / W)))
        picture[i] = mean[i] + 0.2 * (level[i] - mean[i]) + 0.06 * random()
    expect(new Set(kinds(measured(picture)))).toEqual(new Set([STEADY]))
    // Whoever stands there is somewhere lighter or darker, and is taken for one with all of that.
    for (let y = 24; y < 40; y++) for (let x = 40; x < 48; x++) picture[y * W + x] -= 0.4
    expect(kinds(measured(picture))).toContain(COVERED)
  })

  test('the flat back of a coat, smaller than the rest of its wearer, is no shadow', () => {
    const picture = seen(() => 0)
    for (let y = 8; y < 60; y++)
      for (let x = 30; x < 66; x++) picture[y * W + x] = Math.log2(0.3 * cloth(x, y))
    // A patch without any texture of its own, which lets the wall's own show through as a shadow would.
    for (let y = 20; y < 50; y++) for (let x = 36; x < 60; x++) picture[y * W + x] = level[y * W + x] - 1
    const kind = kinds(measured(picture))
    expect(kind).not.toContain(LIT)
  })

  test.each([-4, -6, 4])('%d stops are no light', (stops) => {
    expect(kinds(measured(seen(() => stops)))).not.toContain(LIT)
  })

  describe('on a wall whose texture is hardly more than grain', () => {
    const faint = level.map((v) => -1.5 + 0.1 * (v + 1.5))
    const wallOf = (change: (i: number) => number, seed: number, body = false) => {
      const grain = normal(seed)
      const picture = faint.map((v, i) => (body ? -1.5 : v) + change(i) + 0.02 * grain())
      const out = tileChange(grid.measures)
      measureTiles(picture, 0, good, faint, grid, out)
      return { ...out, shown: { aligned: picture, level: faint, validity: good } }
    }
    const quietFrames = Array.from({ length: 12 }, (_, k) => wallOf(() => 0, 300 + k))
    const faintQuiet = referenceTiles(quietFrames, faint, grid)
    const kindsOf = (f: ReturnType<typeof wallOf>) => {
      const kind = new Uint8Array(f.change.length)
      classifyTiles(f, faintQuiet, grid, kind, f.shown)
      return kind
    }
    const share = (kind: Uint8Array, of: number) => kind.filter((k) => k === of).length / kind.length

    test('smooth bodywork is a thing: the texture is gone', () => {
      for (const stops of [-1, -0.6, 0.8])
        expect(share(kindsOf(wallOf(() => stops, 7, true)), LIT)).toBeLessThan(0.1)
    })

    test('where one frame can’t tell, its neighbours in time do', () => {
      const fainter = level.map((v) => -1.5 + 0.015 * (v + 1.5))
      const at = (body: boolean, seed: number) => {
        const grain = normal(seed)
        const out = tileChange(grid.measures)
        const picture = fainter.map((v) => (body ? -1.5 : v) - 0.6 + 0.02 * grain())
        measureTiles(picture, 0, good, fainter, grid, out)
        return { ...out, shown: { aligned: picture, level: fainter, validity: good } }
      }
      const unlit = Array.from({ length: 40 }, (_, k) => {
        const grain = normal(700 + k)
        const out = tileChange(grid.measures)
        measureTiles(
          fainter.map((v) => v + 0.02 * grain()),
          0,
          good,
          fainter,
          grid,
          out,
        )
        return out
      })
      const reference = referenceTiles(unlit, fainter, grid)
      const litShare = (body: boolean, near: number) => {
        const kind = new Uint8Array(grid.columns * grid.rows)
        const beside = Array.from({ length: near }, (_, k) => at(body, 801 + k))
        const f = at(body, 800)
        classifyTiles(f, reference, grid, kind, f.shown, beside)
        return share(kind, LIT)
      }
      expect(litShare(true, 0)).toBeGreaterThan(0.3)
      expect(litShare(true, 2)).toBeLessThan(0.1)
      for (const near of [0, 2]) expect(litShare(false, near)).toBe(1)
    })

    test('a shadow as deep stays light', () => {
      for (const stops of [-1, -0.6, 0.8]) expect(share(kindsOf(wallOf(() => stops, 7)), LIT)).toBe(1)
    })
  })
})

describe('the surface under it', () => {
  let cv: OpenCv
  beforeAll(async () => {
    cv = await loadOpenCv()
  }, 20_000)

  const one: TileGrid = {
    ...grid,
    size: 16,
    width: 16,
    height: 16,
    columns: 1,
    rows: 1,
    weight: Float32Array.of(256),
    totalWeight: 256,
    own: Int32Array.of(-1),
    measures: 1,
    within: new Uint8Array(256).fill(1),
  }
  const withoutPlane = (values: Float32Array): Float32Array => {
    // A slow twin: on a full square x, y and 1 are orthogonal about its middle, so that each has its own sum.
    const s = [0, 0, 0, 0]
    values.forEach((v, i) => {
      const x = (i % 16) - 7.5
      const y = Math.floor(i / 16) - 7.5
      s[0] += v / 256
      s[1] += v * x
      s[2] += v * y
      s[3] += x * x
    })
    return values.map(
      (v, i) => v - s[0] - (s[1] / s[3]) * ((i % 16) - 7.5) - (s[2] / s[3]) * (Math.floor(i / 16) - 7.5),
    )
  }
  const cut = (picture: Float32Array) =>
    Float32Array.from({ length: 256 }, (_, i) => picture[(10 + Math.floor(i / 16)) * W + 20 + (i % 16)])

  // Outside truth: OpenCV's TM_CCOEFF_NORMED of both pictures without their planes.
  test.each([
    ['the same wall in grain', 0.02, 1],
    ['the same wall in heavy grain', 0.2, 1],
    ['half the wall, half another', 0.02, 0.5],
    ['another wall', 0.02, 0],
  ])('correlates as OpenCV says: %s', (_, sigma, share) => {
    const other = texturedWall(8)
    const picture = seen(
      (x, y) => -0.5 + 0.02 * x - (1 - share) * (level[y * W + x] - Math.log2(other(x, y))),
      3,
      sigma,
    )
    const a = cut(level)
    const b = cut(picture)
    const f = tileChange(1)
    measureTiles(b, 0, new Uint8Array(256).fill(VALID), a, one, f)
    const flat = { level: a, spread: a, support: a }
    const q = { ...referenceTiles([f, f, f], flat.level, one), residual: Float32Array.of(0.01) }
    const ours = surfaceCorrelation(f, q, () => true)
    const picturesOf = (data: Float32Array) => ({ width: 16, height: 16, data: withoutPlane(data) })
    // One row and column more than the template: OpenCV has its answer for the first place.
    const image = new Float32Array(17 * 17)
    withoutPlane(a).forEach((v, i) => {
      image[17 * Math.floor(i / 16) + (i % 16)] = v
    })
    const theirs = maskedCoefficients(
      cv,
      { width: 17, height: 17, data: image },
      picturesOf(b),
      new Float32Array(256).fill(1),
    ).data[0]
    expect(Math.abs(ours! - theirs)).toBeLessThan(2e-3)
  })

  test('a wall fainter than its grain tells nothing', () => {
    const f = measured(seen(() => -0.5))
    const faint = { ...quiet, texture: quiet.texture.map(() => 1e-6) }
    expect(surfaceCorrelation(f, faint, () => true)).toBeNull()
    expect(surfaceCorrelation(f, quiet, () => false)).toBeNull()
  })

  test('no input is changed', () => {
    const before = { level: level.slice(), picture: seen(() => -0.5) }
    const picture = before.picture.slice()
    measured(picture)
    expect(picture).toEqual(before.picture)
    expect(level).toEqual(before.level)
  })
})
