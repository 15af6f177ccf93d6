// A hazy bright day: soft sun from the upper left behind the lens, a pale sky for the rest. Linear light.
import { TO_SUN } from './stage.js'

/** What a white surface square to the sun sends back, and what the whole sky adds. */
const SUN = [0.86, 0.785, 0.665] as const
const SKY = [0.275, 0.315, 0.37] as const

/** One dab of paint: its coverage and its colour in linear light. Reused, so that painting allocates nothing. */
export class Dab {
  a = 0
  r = 0
  g = 0
  b = 0

  /** Colour as it leaves the surface. */
  set(alpha: number, r: number, g: number, b: number): void {
    this.a = alpha
    this.r = r
    this.g = g
    this.b = b
  }

  /** A matt surface under `sun` (0 to 1, with the angle in it) and `sky` (0 to 1, how much of it is seen). */
  matt(alpha: number, r: number, g: number, b: number, sun: number, sky: number): void {
    this.a = alpha
    this.r = r * (SUN[0] * sun + SKY[0] * sky)
    this.g = g * (SUN[1] * sun + SKY[1] * sky)
    this.b = b * (SUN[2] * sun + SKY[2] * sky)
  }

  /** Lays a colour over what is there already; coverage stays. */
  over(alpha: number, r: number, g: number, b: number): void {
    this.r += (r - this.r) * alpha
    this.g += (g - this.g) * alpha
    this.b += (b - this.b) * alpha
  }

  /** Brightens or darkens. */
  times(factor: number): void {
    this.r *= factor
    this.g *= factor
    this.b *= factor
  }
}

/** The sun on surfaces that face the lens and on the ground. */
export const SUN_ON_WALL = TO_SUN.z
export const SUN_ON_GROUND = -TO_SUN.y

/** How much sun falls on a surface whose outward normal is (x, y, z), z towards the lens. */
export function sunOn(x: number, y: number, z: number): number {
  return Math.max(0, x * TO_SUN.x + y * TO_SUN.y + z * TO_SUN.z)
}

/**
 * How far a shadow reaches over the ground, per metre of height: sideways (right) and away from the lens.
 */
export const SHADOW_RIGHT = -TO_SUN.x / -TO_SUN.y
export const SHADOW_AWAY = TO_SUN.z / -TO_SUN.y
