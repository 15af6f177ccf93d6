// A table from above, on which things are put down and taken away by hands that come in from its edge.
import { randomFrom } from '../random.js'
import type { Picture } from '../resample.js'
import { lay, type Point, paintGround, shade, smoothNoise, stroke } from './camera-paint.js'
import type { Scene } from './cameras.js'
import { cloth } from './cloth.js'

interface Thing {
  readonly key: string
  readonly at: Point
  readonly shape: 'cup' | 'book' | 'bowl'
  readonly size: number
  readonly angle: number
  /** First frame in which it lies there let go, and first in which a hand has it again. */
  readonly first: number
  readonly last: number
}

/** A hand that reaches to a place and back. */
interface Reach {
  readonly key: string
  readonly to: Point
  readonly from: Point
  /** Frame in which it is there. */
  readonly index: number
  readonly carries: 'there' | 'back' | 'nothing'
  readonly thing?: Thing
}

/** Frames that a hand takes to its place, and that it rests there. */
const WAY = 7
const REST = 2
const SHAPES = ['cup', 'book', 'bowl'] as const
const THINGS = 9

export function table(seed: string, width: number, height: number, frames: number): Scene {
  const wood = smoothNoise(`table ${seed}`)
  const ground = (target: Picture) =>
    paintGround(target, (x, y, out) => {
      const plank = Math.floor(y / 72)
      const gap = y - 72 * plank < 1.5 ? 0.4 : 1
      const rings = Math.sin(14 * wood(x / 160 + 5 * plank, y / 26))
      const tone =
        gap * (1 + 0.12 * rings + 0.25 * wood(x / 50, y / 4 + 9 * plank) + 0.1 * wood(plank * 2.3, 1))
      // A runner of checked cloth lies across.
      const runner = x > 300 && x < 400
      const check = (Math.floor(x / 12) + Math.floor(y / 12)) % 2 === 0 ? 1.15 : 0.85
      const weave = check * (1 + 0.1 * Math.sin(2.2 * x) * Math.sin(2.2 * y) + 0.1 * wood(x / 8, y / 8))
      if (runner) out.set([0.3 * weave, 0.34 * weave, 0.36 * weave])
      else out.set([0.34 * tone, 0.21 * tone, 0.12 * tone])
      const window = 1.25 - 0.6 * ((x / width) * 0.7 + (y / height) * 0.3)
      for (let c = 0; c < 3; c++) out[c] *= window
    })
  const { things, reaches } = eventsOf(seed, width, height, frames)
  const random = randomFrom(`table light ${seed}`)
  const mains = Array.from({ length: frames }, () => 1 + 0.008 * (2 * random() - 1))
  return {
    ground,
    show: (shown, index) => {
      for (const thing of things) {
        if (index >= thing.first && index < thing.last) paintThing(shown, thing, thing.at)
      }
      for (const reach of reaches) paintReach(shown, reach, index)
    },
    gains: (_shown, index) => [mains[index], mains[index], mains[index]],
  }
}

/** Some things are there from the start, some stay to the end; between, hands cross that move nothing. */
function eventsOf(seed: string, width: number, height: number, frames: number) {
  const random = randomFrom(`table events ${seed}`)
  const things: Thing[] = []
  const reaches: Reach[] = []
  const edge = (at: Point): Point => {
    const low = at.y > height / 2
    return { x: at.x + 160 * (random() - 0.5), y: low ? height + 90 : -90 }
  }
  for (let n = 0; n < THINGS; n++) {
    const at = { x: width * (0.12 + 0.76 * random()), y: height * (0.15 + 0.7 * random()) }
    const stays = frames * (0.15 + 0.5 * random())
    const begin = Math.round(-0.2 * frames + (1.1 * frames * (n + random())) / THINGS)
    const thing: Thing = {
      key: `${seed} ${n}`,
      at,
      shape: SHAPES[n % 3],
      size: 18 + 20 * random(),
      angle: Math.PI * random(),
      first: begin,
      last: Math.round(begin + stays),
    }
    things.push(thing)
    const key = `${seed} hand ${n % 3}`
    reaches.push({ key, to: at, from: edge(at), index: thing.first, carries: 'there', thing })
    reaches.push({ key, to: at, from: edge(at), index: thing.last, carries: 'back', thing })
  }
  for (let n = 0; n < 8; n++) {
    const to = { x: width * (0.2 + 0.6 * random()), y: height * (0.3 + 0.4 * random()) }
    const index = Math.round((frames * (n + 0.9 * random())) / 8)
    reaches.push({ key: `${seed} hand ${n % 3}`, to, from: edge(to), index, carries: 'nothing' })
  }
  return { things, reaches }
}

function paintThing(target: Picture, { key, shape, size, angle }: Thing, at: Point): void {
  const stuff = cloth(`thing ${key}`)
  const round = (radius: number) => (x: number, y: number) => Math.hypot(x - at.x, y - at.y) - radius
  const cos = Math.cos(angle)
  const sin = Math.sin(angle)
  const book = (grown: number) => (x: number, y: number) => {
    const u = Math.abs((x - at.x) * cos + (y - at.y) * sin) - 1.25 * size - grown
    const v = Math.abs((y - at.y) * cos - (x - at.x) * sin) - 0.85 * size - grown
    return Math.max(u, v)
  }
  const outline = shape === 'book' ? book(0) : round(size)
  const shadow = (x: number, y: number) => outline(x - 0.2 * size, y - 0.2 * size)
  shade(target, at, 1.9 * size, shadow, 0.3 * size, 0.5)
  lay(target, at, 1.9 * size, outline, stuff, at)
  if (shape === 'book') return
  // Rim and inside: a cup is dark within, a bowl shows its other glaze.
  const inside = cloth(`inside ${key}`, shape === 'cup' ? [0.03, 0.018, 0.01] : undefined)
  lay(target, at, size, round(0.82 * size), inside, at)
}

function paintReach(target: Picture, reach: Reach, index: number): void {
  const away = Math.abs(index - reach.index) - REST
  if (away >= WAY) return
  const t = away <= 0 ? 0 : (away / WAY) ** 1.5
  const hand = {
    x: reach.to.x + t * (reach.from.x - reach.to.x),
    y: reach.to.y + t * (reach.from.y - reach.to.y),
  }
  const carried =
    (reach.carries === 'there' && index < reach.index) || (reach.carries === 'back' && index >= reach.index)
  if (carried && reach.thing !== undefined) paintThing(target, reach.thing, hand)
  const back = { x: reach.from.x - reach.to.x, y: reach.from.y - reach.to.y }
  const far = 1 / Math.hypot(back.x, back.y)
  const along = (px: number): Point => ({ x: hand.x + back.x * far * px, y: hand.y + back.y * far * px })
  const wrist = along(34)
  const elbow = along(330)
  const sleeve = cloth(`sleeve ${reach.key}`)
  const skin = cloth(`skin ${reach.key}`, [0.4, 0.24, 0.17])
  const arm = (x: number, y: number) =>
    Math.min(stroke(x, y, hand, wrist, 13), stroke(x, y, wrist, elbow, 22))
  shade(target, hand, 400, (x, y) => arm(x - 9, y - 9), 14, 0.4)
  lay(target, hand, 60, (x, y) => stroke(x, y, hand, wrist, 13), skin, hand)
  lay(target, hand, 400, (x, y) => stroke(x, y, along(44), elbow, 22), sleeve, hand)
}
