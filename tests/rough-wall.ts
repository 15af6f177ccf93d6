// A rough wall as a formula: waves of many lengths and directions, so that it looks alike nowhere.
import { random } from './synthetic.js'

interface Wave {
  readonly x: number
  readonly y: number
  readonly phase: number
  readonly strength: number
}

const next = random(77)
/** Shortest wave: 5 pixels, which a lens and a filter still show. */
const WAVES: Wave[] = Array.from({ length: 64 }, () => {
  const length = 5 * 2 ** (6 * next())
  const angle = Math.PI * next()
  return {
    x: (2 * Math.PI * Math.cos(angle)) / length,
    y: (2 * Math.PI * Math.sin(angle)) / length,
    phase: 2 * Math.PI * next(),
    strength: 0.011 * length ** 0.55,
  }
})

/** log2 luminance at a place, pixels. */
export function roughWall(x: number, y: number): number {
  let sum = -2.5
  for (const wave of WAVES) sum += wave.strength * Math.sin(wave.x * x + wave.y * y + wave.phase)
  return sum
}
