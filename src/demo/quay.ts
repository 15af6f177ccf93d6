// The quay: setts in perspective, the coping's big stones, and the wet face that goes down into the water.
import type { Layer } from './canvas.js'
import { SHADOW_AWAY, SHADOW_RIGHT, SUN_ON_GROUND } from './light.js'
import { cell, fbm, resolved } from './noise.js'
import { box, clamp, cover, ramp, stroke } from './shapes.js'
import {
  COPING,
  EDGE_SCALE,
  EYE_METRES,
  HORIZON,
  KIOSK,
  KIOSK_SCALE,
  LENS,
  STAGE_HEIGHT,
  STAGE_WIDTH,
  WALL,
  WATERLINE,
} from './stage.js'

const MARGIN = 30
/** One sett, metres: across and along the line of sight. */
const SETT = { across: 0.3, along: 0.36 }
const JOINT_METRES = 0.028
const KIOSK_DEPTH_METRES = 1.5
const KIOSK_HEIGHT_METRES = 2.4
/** The sun behind haze: a shadow's edge softens by this much per metre of its length. */
const PENUMBRA = 0.3

export function paving(seed: number): Layer {
  return {
    extent: { left: -MARGIN, top: WALL.base - 14, right: STAGE_WIDTH + MARGIN, bottom: COPING.top + 4 },
    paint(x, y, fp, dab) {
      const scale = (y - HORIZON) / EYE_METRES
      const z = LENS / scale
      const across = (x - STAGE_WIDTH / 2) / scale
      const perRow = (EYE_METRES * LENS * SETT.along) / (z * z)
      const row = Math.floor(z / SETT.along)
      const v = z / SETT.along - row
      const shift = across / SETT.across + 0.5 * (row & 1) + 0.16 * cell(row, 0, seed + 161)
      const col = Math.floor(shift)
      const u = shift - col
      const fine = resolved(perRow, fp)
      const tint = cell(col, row, seed + 162)
      const warm = cell(col, row, seed + 163) - 0.5
      const broad = fbm(across, z, seed + 164, 3.2, 5, fp / scale)
      const grit = fbm(x, y * 2.2, seed + 165, 6, 4, fp)
      const tone = (0.83 + 0.34 * tint * fine + 0.17 * (1 - fine)) * (1 + 0.2 * broad + 0.22 * grit)
      // The crown of each sett: its far side falls away from the light, its near side catches it.
      const crown = 1 + 0.2 * (0.5 - v) * fine - 0.1 * (u - 0.5)
      const open = 1 - 0.55 * ramp(WALL.base + 14, WALL.base, y)
      const lit = 1 - 0.8 * kioskShadow(across, z)
      dab.matt(
        Math.min(cover(WALL.base - y, fp), cover(y - COPING.top, fp)),
        (0.405 + 0.04 * warm) * tone,
        (0.385 + 0.01 * warm) * tone,
        (0.355 - 0.032 * warm) * tone,
        SUN_ON_GROUND * crown * lit * (0.6 + 0.4 * open),
        open * (0.72 + 0.28 * lit),
      )
      const du = Math.min(u, 1 - u) * SETT.across * scale
      const dv = Math.min(v, 1 - v) * perRow
      const wide = (JOINT_METRES * scale) / 2
      const joint = Math.max(
        stroke(du, wide, fp),
        stroke(dv, Math.max(0.3, (wide * perRow) / (SETT.along * scale)), fp) * (0.35 + 0.65 * fine),
      )
      const moss = ramp(0, 0.35, fbm(x, y * 2, seed + 166, 60, 4, fp))
      dab.over(0.6 * joint, dab.r * 0.36, dab.g * (0.36 + 0.1 * moss), dab.b * 0.34)
      puddles(across, z, fp / scale, seed, (wet, shine) => {
        dab.times(1 - 0.4 * wet)
        dab.over(0.5 * shine, 0.5, 0.5, 0.48)
      })
    },
  }
}

/** Damp patches and what little water stands in them, mirroring the bright wall. */
function puddles(
  across: number,
  z: number,
  fp: number,
  seed: number,
  use: (wet: number, shine: number) => void,
): void {
  const field = fbm(across, z * 0.6, seed + 171, 1.9, 5, fp)
  const wet = ramp(0.24, 0.36, field)
  if (wet > 0) use(wet, ramp(0.4, 0.46, field))
}

/** Share of the sun that the kiosk takes from a point of the ground; soft in proportion to the shadow's length. */
function kioskShadow(across: number, z: number): number {
  const left = (KIOSK.left - STAGE_WIDTH / 2) / KIOSK_SCALE
  const right = (KIOSK.right - STAGE_WIDTH / 2) / KIOSK_SCALE
  const front = LENS / KIOSK_SCALE
  let dark = 0
  for (let k = 0; k <= 8; k++) {
    const height = (KIOSK_HEIGHT_METRES * k) / 8
    const d = box(
      across,
      z,
      (left + right) / 2 + SHADOW_RIGHT * height,
      front + KIOSK_DEPTH_METRES / 2 + SHADOW_AWAY * height,
      (right - left) / 2,
      KIOSK_DEPTH_METRES / 2,
    )
    dark = Math.max(dark, ramp(0.5, -0.5, d / (0.12 + PENUMBRA * height)))
  }
  return dark
}

/** The coping: long pale stones with a worn lip, and a rail of rust stains below the bollards. */
export function coping(seed: number): Layer {
  return {
    extent: { left: -MARGIN, top: COPING.top - 2, right: STAGE_WIDTH + MARGIN, bottom: COPING.face + 3 },
    paint(x, y, fp, dab) {
      const scale = (y - HORIZON) / EYE_METRES
      const across =
        (Math.min(y, COPING.lip) === y ? (x - 480) / scale : (x - 480) / EDGE_SCALE) / 1.18 + 0.31
      const stone = Math.floor(across)
      const u = across - stone
      const tone =
        (0.9 + 0.2 * cell(stone, 7, seed + 181)) *
        (1 + 0.16 * fbm(x, y * 1.6, seed + 182, 16, 5, fp) + 0.12 * fbm(x, y, seed + 183, 110, 3, fp))
      const lip = COPING.lip + 0.8 * fbm(x, 0, seed + 184, 22, 4, fp)
      const front = ramp(lip - 1.2, lip + 1.2, y)
      const sun = SUN_ON_GROUND * (1 - front) + 0.42 * front
      const sky = 1 - 0.35 * front
      dab.matt(
        Math.min(cover(COPING.top - y, fp), cover(y - COPING.face - 0.7 * Math.sin(x * 0.07), fp)),
        0.455 * tone,
        0.43 * tone,
        0.395 * tone,
        sun,
        sky,
      )
      dab.times(1 + 0.16 * stroke(y - lip + 1.2, 1, fp))
      const joint = Math.min(u, 1 - u) * 1.18 * EDGE_SCALE
      dab.times(1 - 0.55 * Math.max(stroke(joint, 0.9, fp), stroke(y - COPING.top - 0.7, 0.9, fp)))
      const stain = ramp(0.12, 0.42, fbm(x, y * 0.5, seed + 185, 44, 5, fp))
      dab.over(0.35 * stain, dab.r * 0.62, dab.g * 0.6, dab.b * 0.55)
    },
  }
}

/** The quay's face: squared blocks, dark and green towards the water, a pale tide line. */
export function quayFace(seed: number): Layer {
  return {
    extent: { left: -MARGIN, top: COPING.face - 4, right: STAGE_WIDTH + MARGIN, bottom: WATERLINE + 8 },
    paint(x, y, fp, dab) {
      const course = (y - COPING.face) / 14.5
      const row = Math.floor(course)
      const v = course - row
      const along = x / 52 + 0.5 * (row & 1) + 0.3 * cell(row, 3, seed + 191)
      const col = Math.floor(along)
      const u = along - col
      const rough = fbm(x, y, seed + 192, 20, 6, fp)
      const slope = fbm(x + 1, y + 1, seed + 193, 10, 4, fp) - fbm(x - 1, y - 1, seed + 193, 10, 4, fp)
      const tone = (0.72 + 0.5 * cell(col, row, seed + 194)) * (1 + 0.4 * rough) * (1 + 1.1 * slope)
      const wet = ramp(COPING.face + 12, COPING.face + 32, y + 9 * fbm(x, y, seed + 195, 40, 4, fp))
      const weed = ramp(
        0,
        0.4,
        fbm(x, y * 0.6, seed + 196, 17, 5, fp) + 0.45 * ramp(WATERLINE - 22, WATERLINE - 4, y),
      )
      const under = 0.45 + 0.55 * ramp(COPING.face, COPING.face + 11, y)
      dab.matt(
        Math.min(cover(COPING.face - 3 - y, fp), 1),
        0.24 * tone * (1 - 0.52 * wet),
        0.222 * tone * (1 - 0.46 * wet),
        0.195 * tone * (1 - 0.5 * wet),
        0.5 * under,
        0.7 * under,
      )
      dab.over(0.72 * wet * weed, 0.035 * (1 + rough), 0.06 * (1 + rough), 0.026 * (1 + rough))
      const du = Math.min(u, 1 - u) * 52
      const dv = Math.min(v, 1 - v) * 14.5
      dab.times(1 - 0.5 * Math.max(stroke(du, 0.8, fp), stroke(dv, 0.8, fp)))
      const tide = stroke(y - COPING.face - 17 - 4 * fbm(x, 1, seed + 197, 60, 4, fp), 1.6, fp * 2)
      dab.over(0.2 * tide, 0.34, 0.34, 0.3)
    },
  }
}

/** Where the water shows. Its still colour lies here; the ripples are painted over it frame by frame. */
export function waterBed(): Layer {
  return {
    extent: { left: -MARGIN, top: WATERLINE - 2, right: STAGE_WIDTH + MARGIN, bottom: STAGE_HEIGHT + MARGIN },
    matte: 'water',
    paint(_x, y, fp, dab) {
      const deep = clamp((y - WATERLINE) / 90, 0, 1)
      dab.set(cover(WATERLINE - y, fp), 0.06 + 0.03 * deep, 0.085 + 0.04 * deep, 0.08 + 0.035 * deep)
    },
  }
}
