// The steel roller shutter: galvanised slats that curve towards the lens, rust, a hood, rails and a bottom bar.
import type { Layer } from './canvas.js'
import { type Dab, sunOn } from './light.js'
import { cell, fbm, resolved } from './noise.js'
import { clamp, cover, ramp, slab, stroke } from './shapes.js'
import { SHUTTER, WALL } from './stage.js'

const SLAT = 6.6
const RAIL = 5
const HOOD = { top: SHUTTER.top - 15, bottom: SHUTTER.top + 2 }

export function shutterLayer(seed: number): Layer {
  const { left, right, top, base } = SHUTTER
  return {
    extent: { left: left + RAIL, top, right: right - RAIL, bottom: base },
    matte: 'shutter',
    paint(x, y, fp, dab) {
      const row = Math.floor((y - base) / SLAT)
      const v = (y - base) / SLAT - row
      const fine = resolved(SLAT, fp)
      // Each slat is a shallow arc: its upper half looks at the sky, its lower half at the quay.
      const tilt = (v - 0.5) * 1.5 * fine
      const wear =
        1 + 0.05 * (cell(row, 1, seed + 101) - 0.5) + 0.13 * fbm(x * 0.35, y, seed + 102, 40, 5, fp)
      const spangle = 1 + 0.06 * fbm(x, y, seed + 103, 4, 3, fp)
      const steel = 0.37 * wear * spangle
      const hood = ramp(top + 24, top + 6, y)
      const frame = ramp(left + RAIL + 9, left + RAIL, x)
      const sun = sunOn(0, tilt, 0.85) * (1 - 0.85 * hood) * (1 - 0.6 * frame)
      const sky = (0.72 - 0.42 * tilt) * (1 - 0.4 * hood)
      dab.matt(1, steel, steel * 1.02, steel * 1.05, sun, sky)
      // The band of bright paving that the whole shutter faintly mirrors, higher slats showing farther ground.
      const mirrored = 0.05 + 0.045 * ramp(base, base - 70, y) + 0.02 * fbm(x, y * 0.2, seed + 104, 90, 2, fp)
      dab.r += 0.9 * mirrored * (0.7 + tilt * 0.5)
      dab.g += 0.92 * mirrored * (0.7 + tilt * 0.5)
      dab.b += 0.95 * mirrored * (0.7 + tilt * 0.5)
      dab.times(
        1 - 0.5 * fine * Math.max(stroke((v - 0.02) * SLAT, 0.75, fp), stroke((v - 1) * SLAT, 0.5, fp)),
      )
      dab.times(1 + 0.1 * fine * stroke((v - 0.2) * SLAT, 0.6, fp))
      rust(x, y, v, fp, seed, dab)
      dab.times(1 - 0.5 * ramp(base - 5, base, y))
      dab.a = Math.min(cover(left + RAIL - x, fp), cover(x - right + RAIL, fp), cover(y - base, fp))
    },
  }
}

/** Rust starts in the joints between slats and runs down, most of it near the ground. */
function rust(x: number, y: number, v: number, fp: number, seed: number, dab: Dab): void {
  const low = ramp(SHUTTER.base - 90, SHUTTER.base, y)
  const field = fbm(x, y * 0.3, seed + 111, 34, 6, fp) + 0.24 * low + 0.05 * (0.5 - v)
  const amount = ramp(0.27, 0.5, field)
  if (amount <= 0) return
  const tone = 1 + 0.4 * fbm(x, y, seed + 112, 6, 4, fp)
  dab.over(
    0.78 * amount,
    0.215 * tone * (0.6 + dab.g),
    0.108 * tone * (0.6 + dab.g),
    0.055 * tone * (0.6 + dab.g),
  )
}

/** Guide rails, hood and bottom bar, and the reveal's shadow: everything that does not mirror. */
export function shutterFrame(seed: number): Layer {
  const { left, right, base } = SHUTTER
  return {
    extent: { left: left - 8, top: HOOD.top - 2, right: right + 16, bottom: WALL.base },
    paint(x, y, fp, dab) {
      const hood = slab(x, y, left - 4, HOOD.top, right + 4, HOOD.bottom)
      const cast = cover(slab(x, y, right, HOOD.top + 6, right + 9, HOOD.bottom + 8), 6)
      const rail = Math.max(
        Math.min(Math.abs(x - left - RAIL / 2), Math.abs(x - right + RAIL / 2)) - RAIL / 2,
        HOOD.bottom - y,
      )
      const bar = slab(x, y, left + RAIL - 1, base - 6, right - RAIL + 1, base + 1)
      const step = slab(x, y, left - 6, base + 1, right + 6, WALL.base + 2)
      dab.matt(0.45 * cast, 0.7, 0.68, 0.64, 0.06, 0.6)
      const worn = fbm(x, y, seed + 121, 18, 5, fp)
      if (step < fp) {
        const stone = 0.4 + 0.16 * worn
        dab.matt(cover(step, fp), stone, stone * 0.97, stone * 0.9, 0.62, 0.8)
      }
      if (rail < fp) {
        const n = clamp(
          (x < (left + right) / 2 ? x - left - RAIL / 2 : x - right + RAIL / 2) / (RAIL / 2),
          -1,
          1,
        )
        const steel = 0.2 + 0.07 * worn
        dab.matt(
          Math.max(dab.a, cover(rail, fp)),
          steel,
          steel * 1.04,
          steel * 1.08,
          sunOn(n * 0.8, 0, 0.8),
          0.7,
        )
      }
      if (bar < fp) {
        const n = (y - base + 2.5) / 3.5
        const steel = 0.24 + 0.08 * worn
        dab.matt(cover(bar, fp), steel, steel, steel * 1.02, sunOn(0, n, 0.8), 0.6)
      }
      if (hood < fp) {
        const v = (y - HOOD.top) / (HOOD.bottom - HOOD.top)
        const paint = 1 + 0.25 * worn
        const chipped = ramp(0.26, 0.4, worn + 0.15 * ramp(0.7, 1, v))
        dab.matt(
          cover(hood, fp),
          (0.15 + 0.1 * chipped) * paint,
          (0.225 - 0.06 * chipped) * paint,
          (0.25 - 0.14 * chipped) * paint,
          sunOn(0, 1.7 * v - 0.95, 0.75),
          0.85 - 0.4 * v,
        )
        dab.times(1 - 0.4 * stroke(y - HOOD.bottom + 1, 0.9, fp))
      }
    },
  }
}
