// The porter with the hand-cart, among the others who pass on a quiet day.
import type { Colour, Crowd } from './crowd.js'
import { drawFigure, type Look, shadeEnd } from './figure.js'
import { drawPasser, LOOKS, stepOf } from './passers.js'
import { groundY } from './stage.js'
import { PASSERS, PORTER_WALK, walkX } from './story.js'
import type { LeftOut } from './truth.js'

const PORTER: Look = {
  tall: 1.76,
  coat: [0.2, 0.085, 0.05],
  sleeves: [0.5, 0.46, 0.39],
  legs: [0.055, 0.07, 0.1],
  skin: [0.42, 0.25, 0.175],
  hat: [0.1, 0.1, 0.1],
  head: 'cap',
  hem: 0,
  lean: 0.23,
}

/** A brisk stride, metres. */
const PORTER_STRIDE = 1.5

const WHEEL = { forward: 1.02, radius: 0.36 }
const BED = { from: 0.5, to: 1.62, up: 0.6 }
const GRIP = [0.4, 0.93] as const
const WOOD: Colour = [0.29, 0.195, 0.115]
const DARK_WOOD: Colour = [0.15, 0.1, 0.06]
const IRON: Colour = [0.07, 0.065, 0.06]
const SACK: Colour = [0.46, 0.38, 0.26]
const CRATE: Colour = [0.4, 0.29, 0.17]

/** Everyone who is there at a time on a quiet day. */
export function drawQuayPeople(crowd: Crowd, time: number, without: LeftOut): void {
  if (!without.passers) {
    for (const [k, walk] of PASSERS.entries()) drawPasser(crowd, walk, LOOKS[k], time, 0.3 * k)
  }
  if (!without.porter && isPorterSeen(time)) {
    drawCartShade(crowd, time)
    drawCart(crowd, time, 'far')
    drawFigure(crowd, PORTER, { ...stepOf(PORTER_WALK, time, PORTER_STRIDE, 0), grip: GRIP })
    drawCart(crowd, time, 'near')
  }
}

function isPorterSeen(time: number): boolean {
  return time >= PORTER_WALK.seen.from && time <= PORTER_WALK.seen.to
}

function drawCartShade(crowd: Crowd, time: number): void {
  const { scale } = PORTER_WALK
  const x = walkX(PORTER_WALK, time)
  const floor = groundY(scale)
  const wheel = x + WHEEL.forward * scale
  crowd.ground(wheel - 7, floor, wheel + 7, floor, 3, 3, 4, 0.75)
  const a = shadeEnd(x + BED.from * scale, scale, BED.up)
  const b = shadeEnd(x + BED.to * scale, scale, BED.up + 0.15)
  crowd.ground(a.x, a.y + 2.5, b.x, b.y + 2.5, 0.25 * scale, 0.2 * scale, 0.28 * scale, 0.64)
}

/** The cart in two halves: the far shaft and wheel, then the load, the bed and the near wheel. */
function drawCart(crowd: Crowd, time: number, half: 'far' | 'near'): void {
  const { scale } = PORTER_WALK
  const x0 = walkX(PORTER_WALK, time)
  const floor = groundY(scale)
  // Stones under the wheel shake the cart a little.
  const shake = 0.006 * Math.sin(time * 2.1) + 0.004 * Math.sin(time * 3.7)
  const px = (forward: number) => x0 + forward * scale
  const py = (up: number) => floor - (up + shake) * scale
  const bar = (a: readonly [number, number], b: readonly [number, number], r: number, colour: Colour) =>
    crowd.limb(px(a[0]), py(a[1]), px(b[0]), py(b[1]), r * scale, r * scale, colour)
  if (half === 'far') {
    drawWheel(
      crowd,
      px(WHEEL.forward + 0.05),
      floor - (WHEEL.radius + 0.035) * scale,
      scale * 0.97,
      x0,
      DARK_WOOD,
    )
    bar([GRIP[0] + 0.04, GRIP[1] + 0.02], [BED.from, BED.up + 0.05], 0.024, DARK_WOOD)
    return
  }
  drawLoad(crowd, px, py, scale)
  bar([GRIP[0] - 0.03, GRIP[1]], [BED.from + 0.06, BED.up], 0.027, WOOD)
  bar([BED.from + 0.1, BED.up - 0.02], [BED.from + 0.06, 0.17], 0.026, DARK_WOOD)
  crowd.facet(
    [
      px(BED.from),
      py(BED.up + 0.05),
      px(BED.to),
      py(BED.up + 0.05),
      px(BED.to),
      py(BED.up - 0.075),
      px(BED.from),
      py(BED.up - 0.075),
    ],
    WOOD,
    0.5,
  )
  crowd.facet(
    [
      px(BED.from),
      py(BED.up + 0.06),
      px(BED.to),
      py(BED.up + 0.06),
      px(BED.to),
      py(BED.up + 0.03),
      px(BED.from),
      py(BED.up + 0.03),
    ],
    [0.36, 0.26, 0.165],
    0.78,
    1,
  )
  drawWheel(crowd, px(WHEEL.forward), floor - WHEEL.radius * scale, scale, x0, WOOD)
}

function drawWheel(crowd: Crowd, cx: number, cy: number, scale: number, way: number, colour: Colour): void {
  const radius = WHEEL.radius * scale
  // It rolls: one turn for every circumference of the way.
  const angle = way / radius
  for (let k = 0; k < 8; k++) {
    const a = angle + (k * Math.PI) / 4
    crowd.limb(cx, cy, cx + Math.cos(a) * (radius - 3), cy + Math.sin(a) * (radius - 3), 1.35, 1.1, colour)
  }
  crowd.ring(cx, cy, radius - 2.6, 1.9, colour)
  crowd.ring(cx, cy, radius - 0.5, 0.9, IRON)
  crowd.ellipse(cx, cy, 4.4, 4.4, DARK_WOOD)
  crowd.ellipse(cx, cy, 1.7, 1.7, IRON)
}

/** Two crates, three sacks, a coil of blue rope. */
function drawLoad(crowd: Crowd, px: (m: number) => number, py: (m: number) => number, scale: number): void {
  const crate = (left: number, bottom: number, w: number, h: number) => {
    crowd.facet(
      [
        px(left),
        py(bottom + h),
        px(left + w),
        py(bottom + h),
        px(left + w),
        py(bottom),
        px(left),
        py(bottom),
      ],
      CRATE,
      0.5,
    )
    for (const v of [0.33, 0.66]) {
      crowd.limb(
        px(left + 0.02),
        py(bottom + h * v),
        px(left + w - 0.02),
        py(bottom + h * v),
        0.45,
        0.45,
        DARK_WOOD,
        0.4,
      )
    }
    for (const u of [0.03, w - 0.03]) {
      crowd.limb(
        px(left + u),
        py(bottom + 0.02),
        px(left + u),
        py(bottom + h - 0.02),
        0.022 * scale,
        0.022 * scale,
        [0.44, 0.33, 0.21],
      )
    }
    crowd.facet(
      [
        px(left),
        py(bottom + h + 0.022),
        px(left + w),
        py(bottom + h + 0.022),
        px(left + w),
        py(bottom + h),
        px(left),
        py(bottom + h),
      ],
      [0.47, 0.36, 0.24],
      0.75,
      1,
    )
  }
  const floor = BED.up + 0.06
  crowd.ellipse(px(1.42), py(floor + 0.13), 0.2 * scale, 0.145 * scale, SACK)
  crate(0.62, floor, 0.52, 0.3)
  crowd.ellipse(px(1.2), py(floor + 0.15), 0.2 * scale, 0.155 * scale, [0.42, 0.345, 0.235])
  crowd.ellipse(px(1.3), py(floor + 0.36), 0.22 * scale, 0.12 * scale, SACK)
  crate(0.68, floor + 0.32, 0.38, 0.22)
  crowd.ring(px(0.86), py(floor + 0.62), 0.085 * scale, 0.032 * scale, [0.06, 0.17, 0.26])
}
