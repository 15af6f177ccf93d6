// Small things that make a quay: bollards with a mooring rope, fish boxes in a stack, a crate of lemons, soft contact shade.
import type { Layer } from './canvas.js'
import { sunOn } from './light.js'
import { cell, fbm } from './noise.js'
import { box, circle, clamp, cover, ellipse, lerp, limb, ramp, slab, stroke } from './shapes.js'
import { COPING, HORIZON, KIOSK, STAGE_HEIGHT, STAGE_WIDTH, WALL } from './stage.js'

const BOLLARDS = [
  { x: 152, y: 391, size: 1 },
  { x: 772, y: 391, size: 1 },
]
const LEMONS = { left: KIOSK.left + 24, right: KIOSK.left + 92, top: KIOSK.base - 31, bottom: KIOSK.base + 5 }
const STACK = { left: 879, right: 985, base: 317, box: { w: 47, h: 17 } }
const BOX_PAINT = [
  [0.09, 0.2, 0.29],
  [0.46, 0.21, 0.07],
  [0.38, 0.3, 0.2],
  [0.12, 0.25, 0.2],
  [0.5, 0.46, 0.38],
] as const

/** Squat iron bollards with a broad head. */
export function bollards(seed: number): Layer {
  return {
    extent: { left: 120, top: 340, right: 840, bottom: 402 },
    matte: 'front',
    paint(x, y, fp, dab) {
      for (const { x: bx, y: by } of BOLLARDS) {
        if (Math.abs(x - bx) > 60) continue
        const d = Math.min(
          Math.max(limb(x, y, bx, by - 2, bx, by - 34, 9.5, 7.2), y - by),
          box(x, y, bx, by - 36, 12.5, 6.2, 6),
          ellipse(x, y, bx, by, 14, 4.6),
        )
        const alpha = cover(d, fp)
        if (alpha <= 0) continue
        const half = y < by - 30 ? 12.5 : y > by - 4 ? 14 : lerp(7.2, 9.5, (y - by + 34) / 32)
        const n = clamp((x - bx) / half, -1, 1)
        const up = y < by - 30 ? clamp((by - 37 - y) / 6, -0.9, 0.9) : 0
        const rust = ramp(0, 0.4, fbm(x, y * 0.6, seed + 261, 15, 5, fp))
        const gloss = ramp(0.2, 0, Math.hypot(n + 0.42, up - 0.3))
        const sun = sunOn(n, -up, Math.sqrt(Math.max(0, 1 - n * n)) * 0.9)
        dab.matt(alpha, 0.085 + 0.12 * rust, 0.08 + 0.045 * rust, 0.08 + 0.01 * rust, sun, 0.75)
        dab.over(0.3 * gloss, 0.6, 0.6, 0.6)
        dab.times(1 - 0.5 * ramp(by - 12, by + 3, y))
      }
    },
  }
}

/** A mooring rope: three turns round the left bollard, then down over the edge and out of the picture. */
export function rope(seed: number): Layer {
  const { x: bx, y: by } = BOLLARDS[0]
  const half = 2.7
  return {
    extent: { left: -40, top: by - 32, right: bx + 14, bottom: STAGE_HEIGHT + 40 },
    matte: 'front',
    paint(x, y, fp, dab) {
      let d = 1e9
      let along = 0
      let across = 0
      for (let turn = 0; turn < 3; turn++) {
        const level = by - 25 + turn * 5.2
        const bend = 3.4 * (1 - ((x - bx) / 11) ** 2)
        const off = y - level - bend
        const here = Math.max(Math.abs(off) - half, Math.abs(x - bx) - 10.5)
        if (here < d) {
          d = here
          along = x * 1.05
          across = off / half
        }
      }
      // From the bollard to the lip, then a hanging curve across the quay's face and the water.
      const lipX = bx - 26
      const lipY = COPING.lip - 1
      const run = limb(x, y, bx - 8, by - 12, lipX, lipY, half, half)
      if (run < d) {
        d = run
        along = y * 1.3 - x
        across = ((x - lipX) * (lipY - by + 12) + (y - lipY) * (bx - 8 - lipX)) / 31 / half
      }
      const down = (lipX - x) / 118
      if (down >= 0) {
        const curve = lipY + 128 * down ** 0.62 - 12 * down
        const steep = Math.max(0.4, (0.62 * 128 * Math.max(down, 0.002) ** -0.38 - 12) / 118)
        const off = (y - curve) / Math.sqrt(1 + steep * steep)
        const hang = Math.abs(off) - half
        if (hang < d) {
          d = hang
          along = y * 0.9 - x * 0.9
          across = off / half
        }
      }
      const alpha = cover(d, fp)
      if (alpha <= 0) return
      const twist = 0.5 + 0.5 * Math.sin(along * 1.15 + across * 1.6)
      const wear = 1 + 0.25 * fbm(x, y, seed + 271, 9, 4, fp)
      const n = clamp(across, -1, 1)
      const tone = (0.62 + 0.5 * twist) * wear
      dab.matt(alpha, 0.43 * tone, 0.365 * tone, 0.26 * tone, sunOn(0.2, n, Math.sqrt(1 - n * n)), 0.8)
    },
  }
}

/** Fish boxes stacked beside the building, a net over one corner. */
export function boxes(seed: number): Layer {
  const { left, right, base } = STACK
  return {
    extent: { left: left - 16, top: 150, right, bottom: base + 2 },
    paint(x, y, fp, dab) {
      const row = Math.floor((base - y) / STACK.box.h)
      const v = 1 - ((base - y) / STACK.box.h - row)
      const shift = 9 * (cell(row, 1, seed + 281) - 0.5)
      const col = Math.floor((x - left - shift) / STACK.box.w)
      const u = (x - left - shift) / STACK.box.w - col
      const high = col === 0 ? 6 : 8
      if (row < 0 || row >= high || col < 0 || x < left) return
      const paint = BOX_PAINT[Math.floor(cell(col, row, seed + 282) * BOX_PAINT.length)]
      const slat = Math.abs(((v * 3) % 1) - 0.5) * (STACK.box.h / 3)
      const end = Math.min(u, 1 - u) * STACK.box.w
      const grain = 1 + 0.3 * fbm(x * 0.15, y, seed + 283 + row, 5, 4, fp)
      const worn = ramp(0.1, 0.34, fbm(x, y, seed + 284, 15, 5, fp))
      const tone = grain * (0.85 + 0.3 * cell(col, row, seed + 285))
      const lidShade = 1 - 0.45 * ramp(0.3, 0, v)
      // The building's corner keeps the sun off the first half metre.
      const lit = ramp(left - 2, left + 24, x) * lidShade
      dab.matt(
        1,
        lerp(paint[0], 0.35, 0.6 * worn) * tone,
        lerp(paint[1], 0.31, 0.6 * worn) * tone,
        lerp(paint[2], 0.25, 0.6 * worn) * tone,
        0.54 * lit,
        0.85 * lidShade,
      )
      dab.times(1 - 0.55 * stroke(slat - STACK.box.h / 6, 0.9, fp))
      dab.times(1 - 0.6 * stroke(end, 1.1, fp))
      dab.times(1 + 0.2 * stroke(end - 4, 1.6, fp))
      dab.times(1 - 0.6 * ramp(base - 10, base, y))
      dab.a = Math.min(cover(left + Math.max(shift, 0) - x, fp), 1)
    },
  }
}

/** A crate of lemons leaning against the kiosk. */
export function lemons(seed: number): Layer {
  const { left, right, top, bottom } = LEMONS
  return {
    extent: { left: left - 3, top: top - 10, right: right + 3, bottom: bottom + 2 },
    matte: 'front',
    paint(x, y, fp, dab) {
      for (let n = 0; n < 22; n++) {
        const row = n < 9 ? 0 : n < 16 ? 1 : 2
        const k = row === 0 ? n : row === 1 ? n - 9 : n - 16
        const cx =
          left +
          5 +
          (row === 0 ? 0 : row === 1 ? 7 : 12) +
          k * (row === 2 ? 7.4 : 7.3) +
          1.5 * cell(n, 1, seed + 291)
        const cy = top + 3 - row * 4.1 + 1.2 * cell(n, 2, seed + 292)
        const d = ellipse(x, y, cx, cy, 4.4, 3.7)
        if (d >= fp) continue
        const nx = (x - cx) / 4.4
        const ny = (y - cy) / 3.7
        const ripe = 0.85 + 0.3 * cell(n, 3, seed + 293)
        const alpha = cover(d, fp)
        const sun = sunOn(nx, ny, Math.sqrt(Math.max(0, 1 - nx * nx - ny * ny)))
        const { a, r, g, b } = dab
        dab.matt(1, 0.62 * ripe, 0.43 * ripe, 0.05, sun, 0.55 + 0.25 * -ny)
        if (a > 0) dab.over(1 - alpha, r, g, b)
        dab.a = Math.max(a, alpha)
      }
      const front = slab(x, y, left, top + 4, right, bottom)
      if (front >= fp) return
      const v = (y - top - 4) / (bottom - top - 4)
      const grain = 1 + 0.35 * fbm(x * 0.16, y, seed + 295, 5, 5, fp)
      const edge = Math.abs(((v * 3 + 0.02) % 1) - 0.5) * 10.5
      const post = Math.min(x - left, right - x)
      const { r, g, b } = dab
      dab.matt(1, 0.42 * grain, 0.31 * grain, 0.195 * grain, 0.56, 0.8)
      dab.times(1 - 0.7 * stroke(edge - 5.2, 0.8, fp) * ramp(4, 6, post))
      dab.times(1 - 0.25 * stroke(post - 5, 0.5, fp))
      dab.times(1 - 0.4 * ramp(bottom - 7, bottom, y))
      dab.over(1 - cover(front, fp), r, g, b)
      dab.a = 1
      if (y > top + 3) dab.a = cover(front, fp)
    },
  }
}

/** Soft shade where things meet the ground. */
export function contactShade(): Layer {
  const spots = [
    { x: BOLLARDS[0].x + 13, y: 390, rx: 30, ry: 5, deep: 0.55 },
    { x: BOLLARDS[1].x + 13, y: 390, rx: 30, ry: 5, deep: 0.55 },
    { x: LEMONS.right + 4, y: LEMONS.bottom - 3, rx: 26, ry: 5.5, deep: 0.6 },
    { x: (LEMONS.left + LEMONS.right) / 2, y: LEMONS.bottom, rx: 38, ry: 3.5, deep: 0.6 },
    {
      x: (KIOSK.left + KIOSK.right) / 2,
      y: KIOSK.base,
      rx: (KIOSK.right - KIOSK.left) / 2 + 6,
      ry: 4,
      deep: 0.7,
    },
    { x: STACK.left + 60, y: STACK.base, rx: 70, ry: 5, deep: 0.6 },
  ]
  return {
    extent: { left: -30, top: WALL.base - 12, right: STAGE_WIDTH + 30, bottom: COPING.face + 4 },
    paint(x, y, _fp, dab) {
      let dark = 0
      for (const s of spots) {
        const k = Math.hypot((x - s.x) / s.rx, (y - s.y) / s.ry)
        dark = Math.max(dark, s.deep * ramp(1.5, 0.35, k))
      }
      dab.set(dark, 0.05, 0.055, 0.065)
    },
  }
}

/** An iron ring in the quay's face. */
export function mooringRing(): Layer {
  const cx = 560
  const cy = COPING.face + 18
  return {
    extent: { left: cx - 16, top: cy - 16, right: cx + 18, bottom: cy + 40 },
    paint(x, y, fp, dab) {
      const d = Math.abs(circle(x, y, cx, cy, 8.5)) - 1.35
      const shadow = Math.abs(circle(x, y, cx + 2.5, cy + 3, 8.5)) - 1.5
      const plate = slab(x, y, cx - 3.5, cy - 12, cx + 3.5, cy - 5)
      const stain = 0.4 * ramp(5, 0, Math.abs(x - cx)) * ramp(cy + 38, cy + 4, y) * (y > cy + 4 ? 1 : 0)
      const fog = y < HORIZON ? 0 : 1
      dab.set(Math.max(0.6 * cover(shadow, 3), stain) * fog, 0.03, 0.02, 0.014)
      const iron = cover(Math.min(d, plate), fp)
      if (iron > 0) {
        dab.matt(Math.max(dab.a, iron), 0.17, 0.095, 0.055, 0.3 + 0.3 * ramp(cx + 6, cx - 8, x), 0.7)
      }
    },
  }
}
