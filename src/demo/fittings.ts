// What hangs on the building: eaves and gutter, the shuttered window, the drainpipe, the lifebuoy, the corner stones.
import type { Layer } from './canvas.js'
import { SUN_ON_WALL, sunOn } from './light.js'
import { cell, fbm, resolved } from './noise.js'
import { circle, clamp, cover, limb, ramp, slab, stroke } from './shapes.js'
import { WALL } from './stage.js'

const TILE = 12.5
const WINDOW = { left: 62, top: 122, right: 118, bottom: 198 }
const PIPE = { x: 652, half: 3.6 }
const BUOY = { x: 673, y: 216, outer: 15, inner: 8.4 }

/** Rows of clay tile ends over a zinc gutter. */
export function eaves(seed: number): Layer {
  return {
    extent: { left: WALL.left, top: 40, right: WALL.right + 10, bottom: WALL.top + 6 },
    paint(x, y, fp, dab) {
      const right = cover(x - WALL.right - 7, fp)
      const k = Math.floor(x / TILE)
      const u = x / TILE - k - 0.5
      const sag = 1.4 * fbm(x, 0, seed + 71, 300, 2, fp)
      const lift = 1.3 * (cell(k, 1, seed + 72) - 0.5)
      const crown = 46 + sag + lift + 5.5 * u * u * 4 * 0.7
      const tone = (0.8 + 0.4 * cell(k, 2, seed + 73)) * (1 + 0.25 * fbm(x, y, seed + 74, 8, 4, fp))
      const round = sunOn(2 * u, -0.7, 0.6)
      dab.matt(cover(crown - y, fp) * right, 0.42 * tone, 0.215 * tone, 0.135 * tone, round, 0.8)
      dab.over(0.35 * ramp(0.15, 0.35, fbm(x, y * 2, seed + 75, 40, 4, fp)), 0.2, 0.21, 0.13)
      // The hollow under each tile, then the gutter's half round, brightest on its upper edge.
      dab.over(
        cover(circle(x, y, (k + 0.5) * TILE, 57 + sag, 4), fp * 1.5) * resolved(TILE, fp),
        0.035,
        0.028,
        0.025,
      )
      const v = (y - 56.5 - sag) / 9
      if (v > 0) {
        const facing = sunOn(0, v * 1.8 - 1, 0.8)
        const zinc = 1 + 0.12 * fbm(x, y, seed + 76, 60, 3, fp)
        const sky = 0.45 + 0.5 * ramp(0.8, 0, v)
        dab.matt(dab.a * cover(y - 65.5 - sag, fp), 0.3 * zinc, 0.315 * zinc, 0.325 * zinc, facing, sky)
        const seam = x - Math.round(x / 118) * 118
        dab.times(1 - 0.35 * stroke(seam, 0.7, fp))
      }
    },
  }
}

/** A window behind closed louvred leaves. */
export function windowLayer(seed: number): Layer {
  const { left, top, right, bottom } = WINDOW
  const middle = (left + right) / 2
  return {
    extent: { left: left - 12, top: top - 12, right: right + 26, bottom: bottom + 26 },
    paint(x, y, fp, dab) {
      // What it does to the wall around: the sill's shadow and the leaves' shadow to the right.
      const sill = slab(x, y, left - 7, bottom, right + 7, bottom + 5)
      const cast = Math.max(
        cover(slab(x, y, left, bottom + 3, right + 11, bottom + 15), 7) * 0.42,
        cover(slab(x, y, right, top + 7, right + 7.5, bottom), 5) * 0.42,
      )
      dab.matt(cast, 0.72, 0.7, 0.66, 0.05, 0.55)
      const surround = slab(x, y, left - 5, top - 6, right + 5, bottom + 1)
      if (surround < fp) {
        const stone = 0.5 + 0.1 * fbm(x, y, seed + 81, 14, 5, fp)
        const lip = surround > -1.4 && (x < middle || y < top) ? 1.12 : 1
        dab.matt(
          Math.max(dab.a, cover(surround, fp)),
          stone * lip,
          stone * 0.97 * lip,
          stone * 0.9 * lip,
          0.54,
          0.9,
        )
      }
      const leaf = slab(x, y, left, top, right, bottom)
      if (leaf < fp) {
        const frame = Math.min(
          Math.abs(x - left),
          Math.abs(x - right),
          Math.abs(x - middle),
          Math.abs(y - top) + 1,
          Math.abs(y - bottom) + 1,
          Math.abs(y - 160) + 1,
        )
        const louvre = ((y - top) / 4.4) % 1
        const board =
          frame < 4 ? 0.86 : 0.52 + 0.62 * louvre * resolved(4.4, fp) + 0.3 * (1 - resolved(4.4, fp))
        const worn = ramp(0.16, 0.34, fbm(x, y, seed + 82, 13, 5, fp))
        const deep = 1 - 0.45 * ramp(7, 0, y - top) - 0.25 * ramp(4, 0, x - left)
        const tone = board * deep * (1 + 0.18 * fbm(x, y * 0.3, seed + 83, 9, 4, fp))
        const inside = cover(leaf, fp)
        dab.over(
          inside,
          (0.1 + 0.16 * worn) * tone,
          (0.225 + 0.07 * worn) * tone,
          (0.275 + 0.02 * worn) * tone,
        )
        dab.over(inside * stroke(x - middle, 0.9, fp), 0.02, 0.03, 0.035)
        dab.a = Math.max(dab.a, inside)
      }
      if (sill < fp) {
        const up = ramp(bottom + 2, bottom, y)
        const stone = 0.52 + 0.12 * fbm(x, y, seed + 84, 9, 4, fp)
        dab.matt(
          Math.max(dab.a, cover(sill, fp)),
          stone,
          stone * 0.97,
          stone * 0.9,
          0.5 + 0.25 * up,
          0.8 + 0.2 * up,
        )
      }
    },
  }
}

/** A cast-iron pipe, its collars and its shadow on the wall. */
export function drainpipe(seed: number): Layer {
  return {
    extent: { left: PIPE.x - 8, top: WALL.top, right: PIPE.x + 22, bottom: WALL.base },
    paint(x, y, fp, dab) {
      const shadow = 0.4 * cover(Math.abs(x - PIPE.x - 9) - 4.2, 4.5) * ramp(WALL.top + 20, WALL.top + 44, y)
      dab.matt(shadow, 0.7, 0.68, 0.64, 0.06, 0.6)
      const near = y - 96 - Math.round((y - 96) / 84) * 84
      const half = PIPE.half + (Math.abs(near) < 3.4 ? 1.3 : 0)
      const d = Math.abs(x - PIPE.x) - half
      if (d >= fp) return
      const n = clamp((x - PIPE.x) / half, -1, 1)
      const rust = ramp(0.1, 0.36, fbm(x, y * 0.35, seed + 91, 16, 5, fp))
      const alpha = cover(d, fp)
      const shade = 0.5 + 0.5 * ramp(WALL.top + 18, WALL.top + 50, y)
      const under = dab.a
      dab.matt(
        Math.max(alpha, under),
        0.13 + 0.12 * rust,
        0.165 - 0.03 * rust,
        0.165 - 0.085 * rust,
        shade * sunOn(n, -0.15, Math.sqrt(1 - n * n)),
        0.8 * shade,
      )
      if (Math.abs(near) > 3.4 && Math.abs(near) < 4.6) dab.times(0.7)
    },
  }
}

/** A lifebuoy on a hook: red-orange and white quarters, a grab line round it. */
export function lifebuoy(seed: number): Layer {
  const mid = (BUOY.outer + BUOY.inner) / 2
  const half = (BUOY.outer - BUOY.inner) / 2
  return {
    extent: { left: BUOY.x - 24, top: BUOY.y - 24, right: BUOY.x + 30, bottom: BUOY.y + 30 },
    paint(x, y, fp, dab) {
      const cast = Math.abs(circle(x, y, BUOY.x + 4.5, BUOY.y + 5.5, mid)) - half
      dab.matt(0.5 * cover(cast, 5), 0.7, 0.68, 0.64, 0.06, 0.6)
      const off = circle(x, y, BUOY.x, BUOY.y, mid)
      const d = Math.abs(off) - half
      const under = dab.a
      if (d < fp) {
        const angle = Math.atan2(y - BUOY.y, x - BUOY.x) + 0.4
        const quarter = ((angle / Math.PI) * 2 + 8) % 1
        const red = cover(Math.abs(quarter - 0.5) - 0.29, (fp / mid) * 0.7)
        const n = off / half
        const far = circle(x, y, BUOY.x, BUOY.y, 0)
        const dirt = 1 + 0.2 * fbm(x, y, seed + 95, 10, 4, fp)
        const nx = (n * (x - BUOY.x)) / far
        const ny = (n * (y - BUOY.y)) / far
        const sun = sunOn(nx, ny, Math.sqrt(Math.max(0, 1 - n * n)))
        dab.matt(
          Math.max(under, cover(d, fp)),
          (0.74 - 0.15 * red) * dirt,
          (0.71 - 0.575 * red) * dirt,
          (0.64 - 0.58 * red) * dirt,
          0.25 + 0.85 * sun,
          0.8,
        )
      }
      const line = Math.abs(
        circle(
          x,
          y,
          BUOY.x,
          BUOY.y,
          BUOY.outer + 1.3 + 0.9 * Math.sin(8 * Math.atan2(y - BUOY.y, x - BUOY.x)),
        ),
      )
      const rope = Math.max(
        stroke(line, 0.65, fp),
        cover(limb(x, y, BUOY.x, BUOY.y - 19, BUOY.x, BUOY.y - 15, 1, 1), fp),
      )
      if (rope > 0) {
        dab.over(dab.a > 0 ? rope : 1, 0.36, 0.32, 0.24)
        dab.a = Math.max(dab.a, rope)
      }
    },
  }
}

/** The dressed corner stones of the building, and the shaded edge where it turns away. */
export function cornerStones(seed: number): Layer {
  return {
    extent: { left: 822, top: WALL.top, right: WALL.right, bottom: WALL.base },
    paint(x, y, fp, dab) {
      const row = Math.floor((y - WALL.base) / 23)
      const v = y - WALL.base - row * 23
      const left = row % 2 === 0 ? 847 : 854
      const inside = cover(left - x, fp)
      if (inside <= 0) return
      const tone = (0.86 + 0.28 * cell(row, 5, seed + 97)) * (1 + 0.3 * fbm(x, y, seed + 98, 13, 5, fp))
      const shade = ramp(WALL.top + 14, WALL.top + 40, y)
      dab.matt(
        inside,
        0.47 * tone,
        0.425 * tone,
        0.36 * tone,
        SUN_ON_WALL * (0.12 + 0.88 * shade),
        0.6 + 0.4 * shade,
      )
      dab.times(1 - 0.4 * Math.max(stroke(v - 0.6, 0.8, fp), stroke(x - left - 0.6, 0.8, fp)))
      dab.times(1 + 0.12 * stroke(v - 2.2, 0.8, fp))
      dab.times(1 - 0.35 * ramp(WALL.right - 3, WALL.right, x))
    },
  }
}
