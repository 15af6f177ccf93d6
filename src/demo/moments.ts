// Light that moves: the heron's shadow over the wall, and somebody bright mirrored in the shutter.
import { clamp, ellipse, join, limb, ramp } from './shapes.js'
import { SHUTTER } from './stage.js'
import { HERON_TIME, MIRRORED_TIME } from './story.js'

/** Stops per channel where the change is deepest. Shade loses the warm sun more than the blue sky. */
const SHADOW_STOPS = [-0.63, -0.6, -0.52] as const
const REFLECTION_STOPS = [0.4, 0.36, 0.24] as const

/** Where the shadow is lowest on the wall, and its speed, stage units and story frames. */
const HERON = { x: 229, y: 131, speed: 7.2, swoop: 0.026 }
/** Half the width over which the sun's haze blurs the shadow's edge. */
const SOFT = 9

export type MomentName = 'shadow' | 'reflection'

/** Where each moment is to be looked for, stage units. */
export const MOMENT_BOX = {
  shadow: { x: 172, y: 90, w: 114, h: 82 },
  reflection: { x: 721, y: 165, w: 92, h: 112 },
} as const

export const MOMENT_STOPS: Record<MomentName, readonly [number, number, number]> = {
  shadow: SHADOW_STOPS,
  reflection: REFLECTION_STOPS,
}

/** Stage rectangle outside which a moment changes nothing at that time, or null when it is over. */
export function momentExtent(
  name: MomentName,
  time: number,
): { left: number; top: number; right: number; bottom: number } | null {
  if (name === 'shadow') {
    const at = heronAt(time)
    if (at.y < -60) return null
    return { left: at.x - 95, top: at.y - 80, right: at.x + 95, bottom: at.y + 80 }
  }
  const x = mirroredX(time)
  if (x < SHUTTER.left - 70 || x > SHUTTER.right + 70) return null
  return { left: x - 60, top: SHUTTER.top, right: x + 60, bottom: SHUTTER.base }
}

/** How much of the full change falls on a point of the stage, 0 to 1. */
export function momentShare(name: MomentName, x: number, y: number, time: number): number {
  return name === 'shadow' ? heronShare(x, y, time) : mirroredShare(x, y, time)
}

function heronAt(time: number): { x: number; y: number } {
  const t = time - HERON_TIME
  return { x: HERON.x + HERON.speed * t, y: HERON.y - HERON.swoop * t * t * 4 }
}

/** A heron from below: folded neck, long legs trailing, broad bowed wings that beat slowly. */
function heronShare(x: number, y: number, time: number): number {
  const at = heronAt(time)
  const t = time - HERON_TIME
  // It tilts along its path: down before the lowest point, up behind it.
  const tilt = clamp(-0.008 * t, -0.3, 0.3)
  const c = Math.cos(tilt)
  const s = Math.sin(tilt)
  const u = (x - at.x) * c - (y - at.y) * s
  const v = (x - at.x) * s + (y - at.y) * c
  if (u * u + v * v > 90 * 90) return 0
  const beat = 1 + 0.1 * Math.cos(time * 0.35)
  const body = ellipse(u, v, 2, 0, 27, 9.5)
  const neck = limb(u, v, 22, -1, 35, -4, 6, 5)
  const bill = limb(u, v, 36, -4, 55, -1, 3.6, 0.6)
  const legs = limb(u, v, -22, 1, -54, 4, 3.4, 2.2)
  const near = join(
    limb(u, v, 6, 3, -2, 27 * beat, 10.5, 12),
    limb(u, v, -2, 27 * beat, -21, 47 * beat, 11.5, 5),
    8,
  )
  const far = join(
    limb(u, v, 6, -3, 0, -25 * beat, 10.5, 11.5),
    limb(u, v, 0, -25 * beat, -18, -43 * beat, 11, 5),
    8,
  )
  const d = Math.min(join(join(body, neck, 6), bill, 4), legs, join(body, Math.min(near, far), 9))
  return ramp(SOFT, -SOFT, d)
}

function mirroredX(time: number): number {
  return (SHUTTER.left + SHUTTER.right) / 2 + 7 * (time - MIRRORED_TIME)
}

/** An upright bright figure, drawn out and blurred by the slats. */
function mirroredShare(x: number, y: number, time: number): number {
  const u = (x - mirroredX(time)) / 24
  const upright = ramp(SHUTTER.top + 8, SHUTTER.top + 70, y) * ramp(SHUTTER.base + 20, SHUTTER.base - 60, y)
  return Math.exp(-u * u) * ramp(2.5, 2, Math.abs(u)) * (0.25 + 0.75 * upright)
}
