// The wooden kiosk: painted boards, a striped awning and its shade, a serving hatch with goods, a fish on its sign.
import type { Layer } from './canvas.js'
import { type Dab, sunOn } from './light.js'
import { cell, fbm } from './noise.js'
import { box, circle, clamp, cover, ellipse, join, limb, ramp, slab, stroke } from './shapes.js'
import { KIOSK } from './stage.js'

const BOARD = 11.2
const SIGN = { top: KIOSK.top, bottom: KIOSK.top + 31 }
const AWNING = { top: SIGN.bottom - 1, drop: 37, flare: 13, valance: 9, stripe: 15.5 }
const AWNING_FOOT = AWNING.top + AWNING.drop
const HATCH = {
  left: KIOSK.left + 22,
  right: KIOSK.right - 22,
  top: AWNING.top + 12,
  bottom: KIOSK.top + 122,
}
const COUNTER = { top: HATCH.bottom - 1, bottom: HATCH.bottom + 7 }
const MIDDLE = (KIOSK.left + KIOSK.right) / 2

/** The body with its boards and hatch, in the awning's shade. */
export function kioskBody(seed: number): Layer {
  return {
    extent: { left: KIOSK.left - 6, top: KIOSK.top + 20, right: KIOSK.right + 6, bottom: KIOSK.base + 2 },
    matte: 'front',
    paint(x, y, fp, dab) {
      const body = slab(x, y, KIOSK.left, KIOSK.top + 20, KIOSK.right, KIOSK.base)
      const counter = slab(x, y, HATCH.left - 9, COUNTER.top, HATCH.right + 9, COUNTER.bottom)
      if (Math.min(body, counter) >= fp) return
      boards(x, y, fp, seed, dab)
      hatch(x, y, fp, seed, dab)
      trim(x, y, fp, seed, dab)
      if (counter < fp) {
        const tone = 1 + 0.24 * fbm(x * 0.18, y, seed + 201, 10, 5, fp)
        const top = ramp(COUNTER.top + 2.5, COUNTER.top + 0.5, y)
        const shade = awningShade(x, y)
        const on = cover(counter, fp)
        const { r, g, b } = dab
        dab.matt(1, 0.4 * tone, 0.285 * tone, 0.18 * tone, (0.45 + 0.4 * top) * (1 - shade), 0.65 + 0.2 * top)
        dab.over(1 - on, r, g, b)
      }
      dab.a = cover(Math.min(body, counter), fp)
    },
  }
}

/** 1 in the awning's shade; its lower end leans to the right, away from the sun, and is soft. */
function awningShade(x: number, y: number): number {
  const reach = y - AWNING_FOOT
  const lower = ramp(AWNING_FOOT + 44, AWNING_FOOT + 30, y)
  const left = ramp(-4, 5, x - (KIOSK.left - AWNING.flare) - 0.62 * (reach + 20))
  return 0.92 * lower * left
}

function boards(x: number, y: number, fp: number, seed: number, dab: Dab): void {
  const k = Math.floor((x - KIOSK.left) / BOARD)
  const u = (x - KIOSK.left) / BOARD - k
  const grain = fbm(x, y * 0.07, seed + 211 + k, 4.5, 4, fp)
  const tone = (0.87 + 0.26 * cell(k, 0, seed + 212)) * (1 + 0.17 * grain)
  const foot = ramp(KIOSK.base - 46, KIOSK.base - 2, y)
  const peel = ramp(0.2, 0.36, fbm(x, y * 0.22, seed + 213 + k, 13, 6, fp) + 0.16 * foot)
  const shade = awningShade(x, y)
  const sun = sunOn(0.2 * (u - 0.5), 0, 1) * (1 - shade)
  const sky = (0.88 - 0.34 * shade) * (1 - 0.4 * ramp(KIOSK.base - 14, KIOSK.base, y))
  dab.matt(1, (0.1 + 0.19 * peel) * tone, (0.29 - 0.05 * peel) * tone, (0.275 - 0.12 * peel) * tone, sun, sky)
  const gap = Math.min(u, 1 - u) * BOARD
  dab.times(1 - 0.62 * stroke(gap, 0.65, fp))
  dab.times(1 + 0.1 * stroke(u * BOARD - 1.6, 0.7, fp))
  for (const row of [HATCH.bottom + 17, KIOSK.base - 16]) {
    const nail = Math.min(
      circle(x, y, (k + 0.27) * BOARD + KIOSK.left, row, 0.75),
      circle(x, y, (k + 0.75) * BOARD + KIOSK.left, row + 1, 0.75),
    )
    dab.over(0.75 * cover(nail, fp), 0.1, 0.07, 0.05)
  }
  dab.over(0.32 * foot * ramp(-0.1, 0.4, fbm(x, y, seed + 214, 18, 5, fp)), 0.2, 0.185, 0.155)
}

function hatch(x: number, y: number, fp: number, seed: number, dab: Dab): void {
  const opening = slab(x, y, HATCH.left, HATCH.top, HATCH.right, HATCH.bottom)
  if (opening >= fp) return
  const inside = cover(opening, fp)
  const depth = ramp(HATCH.left - 20, HATCH.right + 60, x)
  const back = 1 + 0.3 * fbm(x, y, seed + 221, 16, 4, fp)
  dab.over(
    inside,
    (0.036 + 0.03 * depth) * back,
    (0.029 + 0.022 * depth) * back,
    (0.024 + 0.016 * depth) * back,
  )
  const shelfY = HATCH.top + 59
  goods(x, y, fp, seed, shelfY, inside, dab)
  dab.over(inside * cover(slab(x, y, HATCH.left, shelfY, HATCH.right, shelfY + 2.4), fp), 0.1, 0.074, 0.05)
  // Reveals: the left one in shade, the right one catching a little light.
  dab.over(inside * cover(x - HATCH.left - 4, fp), 0.035, 0.05, 0.05)
  dab.over(inside * cover(HATCH.right - 5 - x, fp), 0.075, 0.115, 0.11)
}

/** Jars and tins on the shelf, strings of onions from the lintel. */
function goods(
  x: number,
  y: number,
  fp: number,
  seed: number,
  shelfY: number,
  inside: number,
  dab: Dab,
): void {
  const k = Math.floor((x - HATCH.left) / 9.5)
  const pick = cell(k, 1, seed + 222)
  const centre = HATCH.left + (k + 0.5) * 9.5
  const tall = 8 + 8 * cell(k, 2, seed + 223)
  if (pick > 0.16 && k > 2 && k < 14) {
    const jar = box(x, y, centre, shelfY - tall / 2, 3.6, tall / 2, 1.4)
    const hue = cell(k, 3, seed + 224)
    const glint = 0.6 + 0.8 * ramp(1, -2.4, x - centre)
    dab.over(
      inside * cover(jar, fp),
      glint * (hue < 0.4 ? 0.15 : 0.08),
      glint * (hue < 0.4 ? 0.075 : hue < 0.7 ? 0.1 : 0.085),
      glint * (hue < 0.4 ? 0.03 : hue < 0.7 ? 0.062 : 0.1),
    )
    dab.over(
      inside * cover(slab(x, y, centre - 3.2, shelfY - tall - 1, centre + 3.2, shelfY - tall + 1), fp),
      0.15,
      0.14,
      0.12,
    )
  }
  for (const sx of [HATCH.left + 20, HATCH.right - 27]) {
    if (Math.abs(x - sx) > 8) continue
    for (let n = 0; n < 7; n++) {
      const d = circle(x, y, sx + (n % 2 ? 2.2 : -2.2), shelfY - 20 + n * 3.3, 2.7)
      const lit = 0.65 + 0.5 * clamp((sx - x) / 4, -1, 1)
      dab.over(inside * cover(d, fp), 0.3 * lit, 0.155 * lit, 0.06 * lit)
    }
  }
}

/** Corner posts and the skirting board. */
function trim(x: number, y: number, fp: number, seed: number, dab: Dab): void {
  const post = Math.min(Math.abs(x - KIOSK.left - 4), Math.abs(x - KIOSK.right + 4)) - 4
  const jamb = Math.max(
    Math.abs(slab(x, y, HATCH.left - 2.5, HATCH.top, HATCH.right + 2.5, HATCH.bottom)) - 2.5,
    y - HATCH.bottom,
  )
  const skirt = Math.abs(y - KIOSK.base + 6) - 5
  const d = Math.min(post, jamb, skirt)
  if (d >= fp) return
  const shade = awningShade(x, y)
  const worn = 1 + 0.22 * fbm(x, y * 0.3, seed + 231, 8, 5, fp)
  const { r, g, b } = dab
  dab.matt(1, 0.5 * worn, 0.475 * worn, 0.4 * worn, 0.54 * (1 - shade), 0.8 - 0.35 * shade)
  dab.times(1 - 0.5 * ramp(KIOSK.base - 10, KIOSK.base, y))
  dab.times(1 - 0.35 * stroke(d + 0.5, 0.6, fp))
  dab.over(1 - cover(d, fp), r, g, b)
}

/** The blank sign with its painted fish, under a small tarred roof. */
export function kioskSign(seed: number): Layer {
  return {
    extent: { left: KIOSK.left - 12, top: KIOSK.top - 8, right: KIOSK.right + 12, bottom: SIGN.bottom + 1 },
    matte: 'front',
    paint(x, y, fp, dab) {
      const sign = slab(x, y, KIOSK.left - 2, SIGN.top, KIOSK.right + 2, SIGN.bottom)
      const roof = slab(x, y, KIOSK.left - 9, SIGN.top - 6, KIOSK.right + 9, SIGN.top + 1.5)
      const worn = fbm(x * 0.4, y, seed + 241, 14, 6, fp)
      const under = ramp(SIGN.top + 8, SIGN.top + 3, y)
      const tone = 1 + 0.2 * worn
      dab.matt(
        cover(sign, fp),
        0.66 * tone,
        0.585 * tone,
        0.43 * tone,
        0.54 * (1 - 0.8 * under),
        0.95 - 0.3 * under,
      )
      const fy = (SIGN.top + SIGN.bottom) / 2 + 1.5
      const fish = join(
        ellipse(x, y, MIDDLE, fy, 27, 7.2),
        Math.max(
          limb(x, y, MIDDLE + 25, fy, MIDDLE + 38, fy, 1.2, 8.6),
          x - MIDDLE - 37 + 0.35 * Math.abs(y - fy) - 2,
        ),
        5,
      )
      const gill = stroke(circle(x, y, MIDDLE - 27, fy, 13), 0.7, fp)
      const eye = cover(circle(x, y, MIDDLE - 19.5, fy - 1.4, 1.2), fp)
      const scales =
        0.3 * stroke(Math.sin(0.75 * x) * 1.4 + ((y - fy) % 3), 0.4, fp) * ramp(-10, -4, x - MIDDLE)
      const faded = 0.86 - 0.55 * ramp(0.12, 0.4, worn)
      dab.over(
        faded * cover(fish, fp) * (1 - 0.85 * Math.max(gill, eye, scales)),
        0.09 * (1.2 - under),
        0.16 * (1.2 - under),
        0.2 * (1.2 - under),
      )
      const edge = Math.abs(sign + 3.4) - 0.6
      dab.over(0.5 * cover(edge, fp), 0.24, 0.1, 0.065)
      if (roof < fp) {
        const v = (y - SIGN.top + 6) / 7.5
        const felt = 1 + 0.4 * fbm(x, y * 2, seed + 242, 12, 5, fp)
        dab.matt(
          Math.max(dab.a, cover(roof, fp)),
          0.105 * felt,
          0.1 * felt,
          0.1 * felt,
          0.75 - 0.45 * v,
          0.95 - 0.3 * v,
        )
      }
    },
  }
}

/** Striped canvas stretched forward over the hatch, with a scalloped valance. */
export function awning(seed: number): Layer {
  const lowest = AWNING_FOOT + AWNING.valance + 3
  return {
    extent: {
      left: KIOSK.left - AWNING.flare - 2,
      top: AWNING.top - 1,
      right: KIOSK.right + AWNING.flare + 2,
      bottom: lowest,
    },
    matte: 'front',
    paint(x, y, fp, dab) {
      const v = clamp((y - AWNING.top) / AWNING.drop, 0, 1)
      const half = (KIOSK.right - KIOSK.left) / 2 + AWNING.flare * v
      const s = ((x - MIDDLE) / half) * ((KIOSK.right - KIOSK.left) / 2 + AWNING.flare)
      const k = Math.floor(s / AWNING.stripe + 0.5)
      const u = s / AWNING.stripe + 0.5 - k
      const sag = 1.6 * Math.sin(s * 0.09) * v
      const scallop = lowest - 3 + 3 * Math.sqrt(Math.max(0, 1 - (2 * u - 1) ** 2)) - 2.2
      const hem = AWNING_FOOT + sag * 0.5
      const inside = Math.min(
        cover(Math.abs(x - MIDDLE) - half, fp),
        cover(AWNING.top - y, fp),
        cover(y - scallop, fp),
      )
      if (inside <= 0) return
      const red = cover(
        Math.abs(u - 0.5) * AWNING.stripe * 2 - AWNING.stripe * (k % 2 === 0 ? 1.04 : -0.04),
        fp * 2,
      )
      const hanging = ramp(hem - 0.6, hem + 0.6, y)
      const fold = fbm(x, y * 0.4, seed + 251, 34, 4, fp)
      const weave = 1 + 0.06 * fbm(x, y, seed + 252, 5, 3, fp)
      const dirt = 1 - 0.22 * ramp(0, 0.5, fbm(x, y * 0.5, seed + 253, 50, 5, fp)) - 0.1 * v
      const sun =
        (sunOn(0.5 * fold, -0.62, 0.72) * (1 - hanging) + sunOn(0.3 * fold, 0, 1) * hanging) *
        (1 + 0.25 * fold)
      const tone = weave * dirt
      dab.matt(
        inside,
        (0.7 - 0.285 * red) * tone,
        (0.655 - 0.535 * red) * tone,
        (0.55 - 0.465 * red) * tone,
        sun,
        0.95 - 0.25 * hanging,
      )
      dab.times(1 - 0.24 * stroke(y - hem, 0.9, fp))
      dab.times(1 - 0.3 * ramp(AWNING.top + 4, AWNING.top, y))
    },
  }
}
