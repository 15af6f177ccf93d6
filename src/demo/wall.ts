// The whitewashed wall: lime plaster in panels, with trowel marks, drips, flaked patches, damp and cracks.
import type { Layer } from './canvas.js'
import { type Dab, SUN_ON_WALL } from './light.js'
import { cell, fbm, random } from './noise.js'
import { clamp, cover, limb, ramp, stroke } from './shapes.js'
import { PANEL_JOINTS, PLINTH_TOP, WALL } from './stage.js'

/** The eaves' shadow: how far it reaches down the wall, and how soft its end is. */
const EAVES_SHADOW = 27
const EAVES_SOFT = 12

interface Segment {
  readonly ax: number
  readonly ay: number
  readonly bx: number
  readonly by: number
  readonly half: number
}

export function wallLayer(seed: number): Layer {
  const cracks = crackSegments(seed)
  return {
    extent: { left: WALL.left, top: WALL.top, right: WALL.right, bottom: WALL.base },
    matte: 'wall',
    paint(x, y, fp, dab) {
      const alpha = Math.min(cover(WALL.top - y, fp), cover(y - WALL.base, fp), cover(x - WALL.right, fp))
      plaster(x, y, fp, seed, dab)
      drips(x, y, fp, seed, dab)
      flakes(x, y, fp, seed, dab)
      damp(x, y, fp, seed, dab)
      plinth(x, y, fp, seed, dab)
      joints(x, y, fp, dab)
      drawCracks(x, y, fp, cracks, dab)
      dab.a = alpha
    },
  }
}

/** Height of the plaster in units; the light rakes over it from the upper left. */
function relief(x: number, y: number, fp: number, seed: number): number {
  const trowel = fbm(x * 0.5 + y * 0.22, y * 0.9 - x * 0.3, seed + 11, 26, 3, fp)
  const grit = fbm(x, y, seed + 12, 7, 4, fp)
  return 1.5 * trowel + 0.75 * grit
}

function plaster(x: number, y: number, fp: number, seed: number, dab: Dab): void {
  const step = Math.max(0.8, fp)
  const slope = (relief(x + step, y + step, fp, seed) - relief(x - step, y - step, fp, seed)) / (2 * step)
  let panel = 0
  while (panel < PANEL_JOINTS.length && x > PANEL_JOINTS[panel]) panel++
  const wash = 1 + 0.05 * (cell(panel, 3, seed) - 0.5)
  const cloud = fbm(x, y * 1.3, seed + 13, 150, 5, fp)
  const warm = fbm(x, y, seed + 14, 240, 3, fp)
  const tone = wash * (1 + 0.085 * cloud)
  const eaves = ramp(WALL.top + EAVES_SHADOW + EAVES_SOFT, WALL.top + EAVES_SHADOW - EAVES_SOFT, y)
  // Under the eaves less sky is seen; near the ground the quay's own light warms the wall.
  const sky =
    (0.62 + 0.38 * ramp(WALL.top, WALL.top + 60, y)) * (0.8 + 0.2 * ramp(WALL.base, WALL.base - 26, y))
  const bounce = 0.06 * ramp(WALL.base - 120, WALL.base, y)
  const sun = SUN_ON_WALL * (1 + 0.9 * slope) * (1 - 0.88 * eaves)
  dab.matt(
    1,
    (0.83 + 0.035 * warm + bounce) * tone,
    (0.805 + 0.018 * warm + 0.8 * bounce) * tone,
    (0.755 - 0.035 * warm + 0.55 * bounce) * tone,
    sun,
    sky,
  )
}

/** Rain runs down from the eaves and leaves grey streaks that thin out on the way. */
function drips(x: number, y: number, fp: number, seed: number, dab: Dab): void {
  const run = fbm(x + 1.6 * fbm(x, y, seed + 20, 60, 2, fp), y * 0.045, seed + 21, 15, 4, fp)
  const reach = 0.55 * ramp(WALL.top + 210, WALL.top + 5, y) + 0.12
  const amount = reach * ramp(0.06, 0.5, run)
  dab.over(amount * 0.62, dab.r * 0.74, dab.g * 0.735, dab.b * 0.69)
}

/** Patches where the wash has come off and the ochre render shows, with a lit and a shaded rim. */
function flakes(x: number, y: number, fp: number, seed: number, dab: Dab): void {
  const field = (u: number, v: number) => {
    const low = fbm(u, v * 1.15, seed + 33, 78, 6, fp)
    return low + 0.09 * ramp(WALL.base - 130, WALL.base - 10, v) - 0.05 * ramp(180, 90, v)
  }
  const here = field(x, y)
  if (here < 0.3) return
  const bare = ramp(0.372, 0.384, here)
  const slope = (field(x + 1.2, y + 1.2) - field(x - 1.2, y - 1.2)) / 2.4
  const rim = clamp(1 - Math.abs(here - 0.378) / 0.03, 0, 1)
  const grain = 1 + 0.34 * fbm(x, y, seed + 35, 9, 5, fp)
  const deep = ramp(0.44, 0.5, here)
  dab.over(
    bare * 0.9,
    (0.335 - 0.05 * deep) * grain,
    (0.268 - 0.03 * deep) * grain,
    (0.188 - 0.004 * deep) * grain,
  )
  // The wash lies above the render: its upper left edge throws a shadow, its lower right edge catches the light.
  dab.times(1 - clamp(9 * slope * rim, -0.18, 0.34))
}

/** Damp rises from the ground in a wavering band, greenish below, with a pale salt line on top. */
function damp(x: number, y: number, fp: number, seed: number, dab: Dab): void {
  const line = 262 + 16 * fbm(x, 0, seed + 41, 90, 5, fp) + 10 * fbm(x, y, seed + 42, 22, 3, fp)
  const wet = ramp(line - 5, line + 26, y)
  const salt = ramp(line - 10, line - 2, y) * (1 - ramp(line - 2, line + 5, y))
  dab.over(0.4 * wet, dab.r * 0.66, dab.g * 0.69, dab.b * 0.6)
  dab.over(0.13 * salt, 0.66, 0.64, 0.6)
}

/** The painted foot of the wall: grey-blue, chipped. */
function plinth(x: number, y: number, fp: number, seed: number, dab: Dab): void {
  const edge = PLINTH_TOP + 0.9 * fbm(x, 0, seed + 51, 30, 3, fp)
  const painted = cover(edge - y, Math.max(fp, 0.8))
  if (painted <= 0) return
  const worn = ramp(
    0.12,
    0.3,
    fbm(x, y * 1.4, seed + 52, 24, 5, fp) + 0.22 * ramp(WALL.base - 8, WALL.base, y),
  )
  const tone = 1 + 0.3 * fbm(x, y, seed + 53, 12, 4, fp)
  const alpha = painted * (1 - 0.8 * worn)
  dab.over(alpha, 0.155 * tone, 0.21 * tone, 0.25 * tone)
  dab.over(0.4 * stroke(y - edge - 0.5, 0.8, fp), 0.36, 0.4, 0.42)
  dab.times(1 - 0.45 * ramp(WALL.base - 9, WALL.base, y))
}

/** Joints between panels: a groove, dark on the side away from the light and bright on its far lip. */
function joints(x: number, y: number, fp: number, dab: Dab): void {
  for (const joint of PANEL_JOINTS) {
    const d = x - joint - 0.5 * Math.sin(y * 0.11 + joint)
    if (Math.abs(d) > 8) continue
    dab.times(1 - 0.42 * stroke(d, 0.95, fp))
    dab.times(1 + 0.13 * stroke(d - 1.9, 0.8, fp))
    dab.times(1 - 0.06 * ramp(7, 0, Math.abs(d + 2)))
  }
}

function crackSegments(seed: number): Segment[] {
  const next = random(seed + 61)
  const segments: Segment[] = []
  const starts = [
    [186, 92, 0.35, 1],
    [296, 214, -1, 0.25],
    [352, 66, 0.2, 1],
    [118, 262, -0.5, -1],
    [640, 120, 0.2, 1],
    [560, 78, 0.5, 1],
  ] as const
  for (const [x0, y0, dx, dy] of starts) {
    let x = x0 + 14 * (next() - 0.5)
    let y = y0 + 10 * (next() - 0.5)
    const steps = 9 + Math.floor(next() * 9)
    let half = 0.62
    for (let k = 0; k < steps; k++) {
      const bx = x + 5.2 * (dx + 1.5 * (next() - 0.5))
      const by = y + 5.2 * (dy + 1.5 * (next() - 0.5))
      segments.push({ ax: x, ay: y, bx, by, half })
      if (next() < 0.16)
        segments.push({ ax: x, ay: y, bx: x + 9 * (next() - 0.5), by: y + 7 * next(), half: half * 0.6 })
      x = bx
      y = by
      half *= 0.93
    }
  }
  return segments
}

function drawCracks(x: number, y: number, fp: number, cracks: readonly Segment[], dab: Dab): void {
  let dark = 0
  let light = 0
  for (let k = 0; k < cracks.length; k++) {
    const { ax, ay, bx, by, half } = cracks[k]
    if (Math.abs(x - ax) > 14 || Math.abs(y - ay) > 14) continue
    dark = Math.max(dark, stroke(limb(x, y, ax, ay, bx, by, 0, 0), half, fp))
    light = Math.max(light, stroke(limb(x - 1, y - 1, ax, ay, bx, by, 0, 0), half, fp))
  }
  if (light > 0) dab.times(1 + 0.1 * light)
  if (dark > 0) dab.times(1 - 0.55 * dark)
}
