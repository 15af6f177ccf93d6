// What occluders and things are made of: random woven textures in linear light.
import { randomFrom } from '../random.js'

const WAVES = 10
/** Linear light that cloth and skin reflect, darkest to brightest. */
const DARKEST = 0.02
const BRIGHTEST = 0.55

export interface Cloth {
  /** Linear RGB at a point of the cloth. */
  at(x: number, y: number, out: Float64Array): void
}

/**
 * A random woven texture: a base colour, plane waves of 5 to 30 px, and per-pixel fleck.
 *
 * @param colour linear RGB of the base colour instead of one by chance
 */
export function cloth(key: string, colour?: readonly number[]): Cloth {
  const random = randomFrom(key)
  // Drawn even where it is not used: one key, one weave.
  const chance = [0, 1, 2].map(() => DARKEST + (BRIGHTEST - DARKEST) * random() ** 2)
  const base = colour ?? chance
  const waves = Array.from({ length: WAVES }, () => {
    const length = 5 + 25 * random()
    const angle = 2 * Math.PI * random()
    return {
      kx: (2 * Math.PI * Math.cos(angle)) / length,
      ky: (2 * Math.PI * Math.sin(angle)) / length,
      phase: 2 * Math.PI * random(),
      tint: [random(), random(), random()],
    }
  })
  return {
    at(x, y, out) {
      for (let c = 0; c < 3; c++) out[c] = 0
      for (const { kx, ky, phase, tint } of waves) {
        const s = Math.sin(kx * x + ky * y + phase)
        for (let c = 0; c < 3; c++) out[c] += tint[c] * s
      }
      const fleck = (Math.sin(x * 12.9898 + y * 78.233) * 43758.5453) % 1
      for (let c = 0; c < 3; c++) {
        out[c] = Math.max(0.004, base[c] * (1 + 0.25 * out[c] + 0.1 * fleck))
      }
    },
  }
}
