// Sky, far shore and masts: everything beyond the building, softened by the air between.
import type { Layer } from './canvas.js'
import { cell, fbm } from './noise.js'
import { clamp, cover, lerp, limb, ramp, slab, stroke } from './shapes.js'
import { HORIZON, STAGE_HEIGHT, STAGE_WIDTH } from './stage.js'

const MARGIN = 30
const FULL = { left: -MARGIN, top: -MARGIN, right: STAGE_WIDTH + MARGIN, bottom: STAGE_HEIGHT + MARGIN }
/** The colour of the air near the horizon. */
const HAZE = [0.7, 0.715, 0.715] as const

/** Masts behind the roof and in the gap: x, top, foot, half width, how much air lies before them. */
const MASTS = [
  { x: 301, top: 2, foot: 60, half: 0.9, air: 0.42, lean: 0.012 },
  { x: 327, top: 20, foot: 60, half: 0.75, air: 0.5, lean: -0.01 },
  { x: 903, top: 14, foot: 190, half: 1.25, air: 0.36, lean: 0.014 },
  { x: 938, top: 58, foot: 190, half: 1.0, air: 0.5, lean: -0.012 },
]

export function sky(seed: number): Layer {
  return {
    extent: FULL,
    paint(x, y, fp, dab) {
      const v = clamp(y / HORIZON, 0, 1)
      const glow = ramp(520, -60, x) * (1 - 0.5 * v)
      const flow = 18 * fbm(x * 0.6, y, seed + 131, 90, 3, fp)
      const bank = fbm(x * 0.5, (y + flow) * 1.7, seed + 132, 120, 6, fp)
      const cloud = ramp(-0.35, 0.55, bank)
      dab.set(
        1,
        lerp(0.5 + 0.17 * cloud, HAZE[0], v) + 0.07 * glow,
        lerp(0.575 + 0.115 * cloud, HAZE[1], v) + 0.06 * glow,
        lerp(0.655 + 0.055 * cloud, HAZE[2], v) + 0.035 * glow,
      )
    },
  }
}

/** Two ridges across the harbour, the nearer with pale houses, and the far water under them. */
export function farShore(seed: number): Layer {
  return {
    extent: { left: 840, top: 96, right: STAGE_WIDTH + MARGIN, bottom: 330 },
    paint(x, y, fp, dab) {
      const far = 124 + 9 * fbm(x, 0, seed + 141, 130, 4, fp)
      const near = 146 + 7 * fbm(x, 3, seed + 142, 70, 5, fp)
      dab.set(0.85 * cover(far - y, 2), 0.5, 0.555, 0.59)
      const onNear = cover(near - y, 1.6)
      const green = 1 + 0.2 * fbm(x, y * 2, seed + 143, 18, 4, fp)
      dab.over(dab.a > 0 ? onNear : 1, 0.345 * green, 0.4 * green, 0.395 * green)
      dab.a = Math.max(dab.a, onNear)
      const k = Math.floor(x / 9)
      const row = Math.floor((y - 150) / 7)
      const here = cell(k, row, seed + 144)
      if (row >= 0 && y < HORIZON - 1 && here > 0.45) {
        const house = slab(x, y, k * 9 + 1, 151.5 + row * 7 + 2 * here, k * 9 + 5 + 4 * here, 158 + row * 7)
        const lit = 0.56 + 0.14 * cell(k, row, seed + 145)
        dab.over(0.8 * cover(house, 1.4), lit, lit * 0.97, lit * 0.91)
        dab.over(
          0.6 *
            cover(
              slab(
                x,
                y,
                k * 9 + 0.5,
                150 + row * 7 + 2 * here,
                k * 9 + 5.5 + 4 * here,
                151.6 + row * 7 + 2 * here,
              ),
              1.4,
            ),
          0.47,
          0.37,
          0.32,
        )
      }
      const water = cover(HORIZON - y, 1.2)
      if (water > 0) {
        const swell = fbm(x * 0.25, y, seed + 146, 9, 3, fp)
        const depth = ramp(HORIZON, 300, y)
        dab.over(
          water,
          lerp(0.5, 0.3, depth) + 0.05 * swell,
          lerp(0.54, 0.37, depth) + 0.05 * swell,
          lerp(0.55, 0.38, depth) + 0.05 * swell,
        )
        dab.a = Math.max(dab.a, water)
      }
    },
  }
}

export function masts(): Layer {
  return {
    extent: { left: 270, top: -MARGIN, right: STAGE_WIDTH + MARGIN, bottom: 195 },
    paint(x, y, fp, dab) {
      let alpha = 0
      let air = 0
      for (const m of MASTS) {
        if (y > m.foot || Math.abs(x - m.x) > 60) continue
        const lean = m.x + m.lean * (m.foot - y)
        const topX = m.x + m.lean * (m.foot - m.top)
        const pole = y > m.top ? stroke(x - lean, m.half, fp * 1.4) : 0
        const yard = stroke(
          limb(x, y, topX - 13, m.top + 20, topX + 12, m.top + 17.5, 0, 0),
          m.half * 0.6,
          fp * 1.4,
        )
        const stayA = stroke(limb(x, y, topX, m.top + 3, m.x - 30, m.foot, 0, 0), 0.28, fp * 1.4)
        const stayB = stroke(limb(x, y, topX, m.top + 3, m.x + 27, m.foot, 0, 0), 0.28, fp * 1.4)
        const here = Math.max(pole, yard, 0.75 * stayA, 0.75 * stayB)
        if (here > alpha) {
          alpha = here
          air = m.air
        }
      }
      const hull = Math.max(
        slab(x, y, 866, 188, 950, 203),
        0.5 * (x - 943) + 0.6 * (y - 188),
        -0.14 * (x - 866) - y + 193,
      )
      const cabin = slab(x, y, 874, 178, 893, 190)
      const boat = Math.max(cover(hull, fp * 1.6), cover(cabin, fp * 1.6))
      if (boat > alpha) {
        alpha = boat
        air = hull < 0 ? 0.45 : 0.8
      }
      dab.set(alpha, lerp(0.16, HAZE[0], air), lerp(0.13, HAZE[1], air), lerp(0.105, HAZE[2], air))
    },
  }
}

/** A chimney on the roof's ridge, with two pots. */
export function chimney(seed: number): Layer {
  return {
    extent: { left: 190, top: 4, right: 250, bottom: 62 },
    paint(x, y, fp, dab) {
      const stack = slab(x, y, 203, 24, 237, 64)
      const cap = slab(x, y, 200, 21, 240, 25.5)
      const pots = Math.min(slab(x, y, 208, 9, 217, 22), slab(x, y, 223, 11, 232, 22))
      const d = Math.min(stack, cap, pots)
      const course = ((y / 4) % 1) * 4
      const tone = 1 + 0.3 * fbm(x, y, seed + 151, 8, 5, fp)
      const side = x > 231 && stack < 0 ? 0.55 : 1
      const isPot = pots < Math.min(stack, cap)
      const round = isPot ? 1.1 - (0.5 * ((x - 206) % 15)) / 9 : side
      const joint = isPot || cap < 0 ? 1 : 1 - 0.2 * stroke(course - 0.4, 0.5, fp)
      dab.matt(
        cover(d, fp),
        0.5 * tone * joint,
        (isPot ? 0.27 : 0.44) * tone * joint,
        (isPot ? 0.18 : 0.37) * tone * joint,
        0.54 * round,
        0.8,
      )
    },
  }
}
