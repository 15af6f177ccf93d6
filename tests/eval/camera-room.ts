// A room in warm light, whose camera sets its own exposure: it settles after the start and follows whoever walks in.
import { randomFrom } from '../random.js'
import type { Picture } from '../resample.js'
import { type Colour, paintGround, paintWalker, smoothNoise, type Walker } from './camera-paint.js'
import type { Scene } from './cameras.js'

const HORIZON = 190
/** The camera wants this mean of luminance, and comes by so much of the rest each frame. */
const WANTED = 0.16
const EXPOSURE_SPEED = 0.12
const BALANCE_SPEED = 0.05
/** The exposure follows the mean by this power; a full 1 would let no scene be dark. */
const EXPOSURE_POWER = 0.9
const BALANCE_POWER = 0.35
/** How much too bright the first frame is. */
const FIRST = 1.5

/** What hangs and stands there: a box and a colour. */
const THINGS: readonly { x: number; y: number; w: number; h: number; colour: Colour }[] = [
  { x: 60, y: 50, w: 70, h: 52, colour: [0.12, 0.2, 0.22] },
  { x: 190, y: 64, w: 44, h: 58, colour: [0.4, 0.16, 0.1] },
  { x: 318, y: 80, w: 92, h: 150, colour: [0.16, 0.08, 0.04] },
  { x: 20, y: 150, w: 90, h: 66, colour: [0.1, 0.14, 0.08] },
]

export function room(seed: string, width: number, height: number, frames: number): Scene {
  const wear = smoothNoise(`room ${seed}`)
  const ground = (target: Picture) =>
    paintGround(target, (x, y, out) => {
      wallOrFloor(x, y, wear, out)
      for (const thing of THINGS) {
        const u = x - thing.x
        const v = y - thing.y
        if (u < 0 || v < 0 || u >= thing.w || v >= thing.h) continue
        const edge = Math.min(u, v, thing.w - 1 - u, thing.h - 1 - v) < 4 ? 1.7 : 1
        const grain = 1 + 0.35 * wear(x / 14 + thing.x, y / 30)
        for (let c = 0; c < 3; c++) out[c] = thing.colour[c] * edge * grain
      }
      const lamp = Math.exp(-((x - 150) ** 2 + (y - 60) ** 2) / (2 * 190 ** 2))
      const light = 0.45 + 0.75 * lamp
      out[0] *= 1.15 * light
      out[1] *= light
      out[2] *= 0.72 * light
    })
  const walkers = walkersOf(seed, width, height, frames)
  return {
    ground,
    show: (shown, index) => {
      for (const walker of walkers) paintWalker(shown, walker, index)
    },
    gains: settling(),
  }
}

function wallOrFloor(x: number, y: number, wear: (x: number, y: number) => number, out: Float64Array): void {
  if (y < HORIZON - 8) {
    const paper = 1 + 0.06 * Math.sin(x / 5) * Math.sin(y / 7) + 0.14 * wear(x / 30, y / 30)
    out.set([0.42 * paper, 0.38 * paper, 0.3 * paper])
  } else if (y < HORIZON) {
    out.fill(0.5 + 0.05 * wear(x / 9, y / 3))
  } else {
    const depth = 0.5 + (y - HORIZON) / 170
    const across = (x - 240) / depth
    const plank = Math.floor(across / 26)
    const gap = across - 26 * plank < 1.2 ? 0.45 : 1
    const tone = gap * (1 + 0.22 * wear(plank * 3.7, 0.5) + 0.3 * wear(across / 4, (y + 40 * plank) / 60))
    out.set([0.26 * tone, 0.16 * tone, 0.09 * tone])
  }
}

/** Black and white cloth: near the camera it is what turns the exposure up or down. */
const DRESSES: readonly Colour[] = [
  [0.012, 0.012, 0.014],
  [0.62, 0.6, 0.52],
]

/** They come one after the other and now and then together, near and far, and some stop on the way. */
function walkersOf(seed: string, width: number, height: number, frames: number): Walker[] {
  const random = randomFrom(`room walkers ${seed}`)
  const out: Walker[] = []
  for (let n = 0, start = 12; start < frames; n++, start += Math.round(14 + 22 * random())) {
    // Every other one is so near that the feet are out of sight.
    const near = n % 2 === 0 ? 1.5 + random() : 0.6 * random()
    const tall = 130 + 170 * near
    const y = HORIZON + 30 + (height - HORIZON - 30) * near
    const [left, right] = [-0.3 * tall, width + 0.3 * tall]
    const leftwards = random() < 0.5
    out.push({
      key: `${seed} ${n}`,
      start,
      frames: Math.round(34 + 22 * random()),
      from: { x: leftwards ? right : left, y },
      to: { x: leftwards ? left : right, y: y + 20 * (random() - 0.5) },
      height: tall,
      dress: n % 2 === 0 ? DRESSES[(n / 2) % 2] : undefined,
      stop: random() < 0.4 ? { at: 0.25 + 0.5 * random(), frames: Math.round(8 + 14 * random()) } : undefined,
    })
  }
  return out
}

/** Exposure and white balance as a cheap camera sets them: by the mean of what it sees, with a lag. */
function settling(): Scene['gains'] {
  let exposure = 0
  const balance = [1, 1, 1]
  let mean: number[] | null = null
  return (shown) => {
    const seen = [0, 0, 0]
    for (let i = 0; i < shown.data.length; i += 3) for (let c = 0; c < 3; c++) seen[c] += shown.data[i + c]
    for (let c = 0; c < 3; c++) seen[c] /= shown.data.length / 3
    mean ??= seen
    const wanted = (WANTED / (0.2126 * seen[0] + 0.7152 * seen[1] + 0.0722 * seen[2])) ** EXPOSURE_POWER
    if (exposure === 0) exposure = FIRST * wanted
    exposure *= (wanted / exposure) ** EXPOSURE_SPEED
    const green = seen[1] / mean[1]
    for (let c = 0; c < 3; c++) {
      const cast = (green / (seen[c] / mean[c])) ** BALANCE_POWER
      balance[c] *= (cast / balance[c]) ** BALANCE_SPEED
    }
    return balance.map((b) => b * exposure)
  }
}
