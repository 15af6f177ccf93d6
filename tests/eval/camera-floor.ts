// A plain floor on which the eye finds nothing to hold on to, walls and shelves round it that have plenty, walkers, and
// the shadows of clouds that drift over all of it.
import { randomFrom } from '../random.js'
import type { Picture } from '../resample.js'
import { paintGround, paintWalker, smoothNoise, type Walker } from './camera-paint.js'
import type { Scene } from './cameras.js'

/** Above it the wall, beside it shelves. */
const WALL = 84
const SHELVES = 40
/** Deepest cloud, as a share of the light, too little to be taken for somebody; pixels per frame that clouds drift; their size. */
const CLOUD = 0.2
const DRIFT = 3.1
const CLOUD_SIZE = 260

export function floor(seed: string, width: number, height: number, frames: number): Scene {
  const wear = smoothNoise(`floor ${seed}`)
  const ground = (target: Picture) =>
    paintGround(target, (x, y, out) => {
      if (y < WALL) {
        const row = Math.floor(y / 14)
        const brick = Math.floor((x + 15 * (row % 2)) / 30)
        const joint = y % 14 < 2 || (x + 15 * (row % 2)) % 30 < 2
        const tone = joint ? 1.5 : 1 + 0.35 * wear(brick * 3.1, row * 2.7) + 0.2 * wear(x / 5, y / 5)
        out.set([0.24 * tone, 0.13 * tone, 0.09 * tone])
      } else if (x < SHELVES || x >= width - SHELVES) {
        const shelf = Math.floor(y / 30)
        const tone = y % 30 < 4 ? 1.8 : 1 + 0.9 * wear(Math.floor(x / 7) * 1.9, shelf * 5.3)
        out.set([0.12 * tone, 0.13 * tone, 0.15 * tone])
      } else {
        const tone = 1 + 0.012 * wear(x / 14, y / 14) + 0.12 * (y / height - 0.5)
        out.set([0.36 * tone, 0.35 * tone, 0.33 * tone])
      }
    })
  const walkers = walkersOf(seed, width, height, frames)
  const sky = smoothNoise(`sky ${seed}`, 2)
  return {
    ground,
    show: (shown, index) => {
      for (const walker of walkers) paintWalker(shown, walker, index)
      drift(shown, sky, index)
    },
    gains: () => [1, 1, 1],
  }
}

/** Clouds lie over people as well: they come last. */
function drift(shown: Picture, sky: (x: number, y: number) => number, index: number): void {
  for (let y = 0, i = 0; y < shown.height; y++) {
    for (let x = 0; x < shown.width; x++, i += 3) {
      const cloud = sky((x - DRIFT * index) / CLOUD_SIZE, (y + 0.4 * DRIFT * index) / CLOUD_SIZE)
      const t = Math.max(0, Math.min(1, 0.5 + 1.3 * cloud))
      const gain = 1 - CLOUD * t * t * (3 - 2 * t)
      // What is left comes from the sky and is a little bluer.
      shown.data[i] *= gain
      shown.data[i + 1] *= gain
      shown.data[i + 2] *= 0.25 + 0.75 * gain
    }
  }
}

function walkersOf(seed: string, width: number, height: number, frames: number): Walker[] {
  const random = randomFrom(`floor walkers ${seed}`)
  const out: Walker[] = []
  for (let n = 0, start = -10; start < frames; n++, start += Math.round(9 + 16 * random())) {
    const tall = 95 + 35 * random()
    const leftwards = random() < 0.5
    const y = () => WALL + 70 + (height - WALL - 70) * random()
    out.push({
      key: `${seed} ${n}`,
      start,
      frames: Math.round(36 + 24 * random()),
      from: { x: leftwards ? width + 40 : -40, y: y() },
      to: { x: leftwards ? -40 : width + 40, y: y() },
      height: tall,
      stop:
        random() < 0.25 ? { at: 0.3 + 0.4 * random(), frames: Math.round(10 + 10 * random()) } : undefined,
    })
  }
  return out
}
