// The made-up cameras behave as they are said to: what moves, what stays, and what the light does is known here.
import sharp from 'sharp'
import { describe, expect, test } from 'vitest'
import { picture } from '../resample.js'
import { floor } from './camera-floor.js'
import { lay, type Point, paintWalker, shade, stroke } from './camera-paint.js'
import { room } from './camera-room.js'
import { table } from './camera-table.js'
import { cameraOf, filmed, type Scene } from './cameras.js'
import { cloth } from './cloth.js'

const WIDTH = 480
const HEIGHT = 360

const plain: Scene = {
  ground: (target) => target.data.fill(0.2),
  show: (shown, index) => {
    // One pixel of light that walks to the right.
    shown.data[3 * (4 * shown.width + index)] = 1
  },
  gains: (_shown, index) => (index === 0 ? [1, 1, 1] : [2, 1, 0.5]),
}

async function codesOf(scene: Scene, key: string, frames: number): Promise<Buffer[]> {
  const out: Buffer[] = []
  for await (const [, png] of filmed(scene, key, 64, 48, frames)) {
    out.push(await sharp(png).raw().toBuffer())
  }
  return out
}

function mean(codes: Buffer, channel: number): number {
  let sum = 0
  for (let i = channel; i < codes.length; i += 3) sum += codes[i]
  return sum / (codes.length / 3)
}

describe('a film', () => {
  test('is the same each time, and another one by another key', async () => {
    const [a, b, c] = [
      await codesOf(plain, 'a', 2),
      await codesOf(plain, 'a', 2),
      await codesOf(plain, 'b', 2),
    ]
    expect(a[1].equals(b[1])).toBe(true)
    expect(a[1].equals(c[1])).toBe(false)
  })

  test('shows the light that the camera sets, channel by channel', async () => {
    const [first, second] = await codesOf(plain, 'a', 2)
    // IEC 61966-2-1 of 0.2, 0.4 and 0.1 is 0.485, 0.665 and 0.349; a camera steepens it round the middle.
    const code = (v: number) => 255 * (v - (0.3 / (2 * Math.PI)) * Math.sin(2 * Math.PI * v))
    expect(Math.abs(mean(first, 0) - code(0.4845))).toBeLessThan(1.5)
    expect(Math.abs(mean(second, 0) - code(0.6652))).toBeLessThan(1.5)
    expect(Math.abs(mean(second, 1) - code(0.4845))).toBeLessThan(1.5)
    expect(Math.abs(mean(second, 2) - code(0.3492))).toBeLessThan(1.5)
  })

  test('carries grain', async () => {
    const [a] = await codesOf({ ...plain, show: () => {} }, 'a', 1)
    const middle = mean(a, 1)
    let sum = 0
    for (let i = 1; i < a.length; i += 3) sum += (a[i] - middle) ** 2
    const sigma = Math.sqrt(sum / (a.length / 3))
    expect(sigma).toBeGreaterThan(0.5)
    expect(sigma).toBeLessThan(2.5)
  })

  test('sends blocks again that change, and no others', async () => {
    const still: Scene = { ...plain, show: () => {}, gains: () => [1, 1, 1] }
    const flash: Scene = {
      ...still,
      show: (shown, index) => {
        // The second block of the first row goes dark.
        for (let y = 0; index > 0 && y < 16; y++) shown.data.fill(0.05, 3 * (y * 64 + 16), 3 * (y * 64 + 32))
      },
    }
    const changed = async (scene: Scene) => {
      const [a, b] = await codesOf(scene, 'a', 2)
      const blocks = new Set<number>()
      for (let i = 0; i < a.length; i++) {
        const x = Math.floor(i / 3) % 64
        const y = Math.floor(i / 3 / 64)
        if (a[i] !== b[i]) blocks.add(4 * (y >> 4) + (x >> 4))
      }
      return [...blocks]
    }
    expect(await changed(still)).toEqual([])
    expect(await changed(flash)).toContain(1)
    expect(await changed(flash)).not.toContain(11)
  })
})

describe('shapes', () => {
  const stuff = cloth('k', [0.5, 0.5, 0.5])
  const middle: Point = { x: 20, y: 20 }

  test('a stroke covers its length and its round ends, and nothing outside its reach is touched', () => {
    const target = picture(48, 40)
    lay(target, middle, 15, (x, y) => stroke(x, y, { x: 12, y: 20 }, { x: 28, y: 20 }, 3), stuff, middle)
    const lit = (x: number, y: number) => target.data[3 * (y * 48 + x)] > 0
    expect([lit(20, 20), lit(12, 20), lit(30, 20), lit(20, 22)]).toEqual([true, true, true, true])
    expect([lit(20, 25), lit(33, 20), lit(7, 20)]).toEqual([false, false, false])
  })

  test('a shade is deepest within and has gone where it is soft no longer', () => {
    const target = picture(48, 40)
    target.data.fill(1)
    shade(target, middle, 5, (x, y) => Math.hypot(x - 20, y - 20) - 4, 6, 0.5)
    const at = (x: number) => target.data[3 * (20 * 48 + x)]
    expect(at(20)).toBe(0.5)
    expect(at(27)).toBeGreaterThan(0.5)
    expect(at(27)).toBeLessThan(1)
    expect(at(31)).toBe(1)
  })

  test('a walker is there from the first frame to the last and stands still at the stop', () => {
    const walker = {
      key: 'w',
      start: 5,
      frames: 20,
      from: { x: 20, y: 60 },
      to: { x: 80, y: 60 },
      height: 50,
      stop: { at: 0.5, frames: 8 },
    }
    const shown = (index: number) => {
      const target = picture(100, 70)
      target.data.fill(0.3)
      paintWalker(target, walker, index)
      let sum = 0
      let n = 0
      for (let x = 0; x < 100; x++) {
        if (Math.abs(target.data[3 * (30 * 100 + x)] - 0.3) < 1e-6) continue
        sum += x
        n++
      }
      return n > 0 ? sum / n : null
    }
    expect([shown(4), shown(33)]).toEqual([null, null])
    expect(shown(5)!).toBeLessThan(25)
    expect(shown(32)!).toBeGreaterThan(75)
    expect(shown(22)!).toBeCloseTo(shown(17)!, 0)
  })
})

describe('the places', () => {
  function lightOf(scene: Scene, frames: number): (readonly number[])[] {
    const ground = picture(WIDTH, HEIGHT)
    scene.ground(ground)
    const shown = picture(WIDTH, HEIGHT)
    return Array.from({ length: frames }, (_, index) => {
      shown.data.set(ground.data)
      scene.show(shown, index)
      return scene.gains(shown, index)
    })
  }

  test("the room's exposure settles from half a stop too bright while nobody is in it", () => {
    const light = lightOf(room('room', WIDTH, HEIGHT, 12), 12)
    expect(light[0][1] / light[11][1]).toBeGreaterThan(1.25)
    for (let i = 1; i < 12; i++) expect(light[i][1]).toBeLessThan(light[i - 1][1])
    // Nobody yet: the balance has nothing to follow.
    expect(light[11][0] / light[11][2]).toBeCloseTo(1, 6)
  }, 30_000)

  test('the plain floor holds fifty times less detail than the wall above it', () => {
    const ground = picture(WIDTH, HEIGHT)
    floor('floor', WIDTH, HEIGHT, 2).ground(ground)
    const detail = (left: number, top: number) => {
      let sum = 0
      for (let y = top; y < top + 60; y++) {
        for (let x = left; x < left + 200; x++) {
          const i = 3 * (y * WIDTH + x)
          sum += (Math.log2(ground.data[i + 3]) - Math.log2(ground.data[i])) ** 2
        }
      }
      return Math.sqrt(sum)
    }
    expect(detail(140, 10)).toBeGreaterThan(50 * detail(140, 200))
  })

  test("the table's things stay where they were put until they are taken", () => {
    const scene = table('table', WIDTH, HEIGHT, 150)
    const ground = picture(WIDTH, HEIGHT)
    scene.ground(ground)
    const frames = [40, 46, 52].map((index) => {
      const shown = picture(WIDTH, HEIGHT)
      shown.data.set(ground.data)
      scene.show(shown, index)
      return shown
    })
    let still = 0
    let moving = 0
    for (let i = 0; i < ground.data.length; i += 3) {
      const [a, b, c] = frames.map((f) => f.data[i])
      if (a === b && b === c) {
        if (a !== ground.data[i]) still++
      } else moving++
    }
    // A cup is some thousand pixels, a hand with its sleeve several.
    expect(still).toBeGreaterThan(1000)
    expect(moving).toBeGreaterThan(1000)
  })

  test('a name that is none of them is a plate of somebody', () => {
    expect(cameraOf('room')).toBe('room')
    expect(cameraOf('/footage/room')).toBeNull()
  })
})
