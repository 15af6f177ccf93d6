// What stands in the region for a while: a crate that is put down, a lamp that goes on. It is there in the window and in
// the minority of all frames, so that the clean plate of the window is not the plate's usual one.
import { grow, type Rect } from '../../src/raster/rect.js'
import { normal, randomFrom } from '../random.js'
import type { Picture } from '../resample.js'
import { cloth } from './cloth.js'
import { toDisplay, toLinear } from './footage.js'
import { median } from './statistics.js'

export type Shape = 'box' | 'round' | 'heap'

export interface Standing {
  readonly what: 'crate' | 'lamp'
  readonly shape: Shape
  /** First and last frame number that shows it. */
  readonly first: number
  readonly last: number
  /** Where it stands, plate pixels; of a lamp, where its light is at least a fifth of its middle. */
  readonly box: Rect
  /** Linear light of a crate over what it hides; of the middle of a lamp's light over what it lights. */
  readonly contrast: readonly [red: number, green: number, blue: number]
}

/** Share of the frames that show it: what only a tenth shows nobody could learn, what half shows is no minority. */
const SHARE: readonly [number, number] = [0.15, 0.4]
/** Frames between the window and the nearer end. */
const NEARER_END: readonly [number, number] = [3, 30]
/** Empty frames outside of the window that must show it. */
const MIN_DONORS = 6
const DRAWS = 40
/** Taken in turn, so that a few windows see all of them. */
const TURNS = ['box', 'lamp', 'heap', 'round'] as const
/** A crate darker or brighter than its ground, up to a stop and a half; 0.75 is a cardboard box on sand. */
const CONTRASTS = [0.35, 0.55, 0.75, 1.5, 2.2]
/** A lamp's brightest place over the same place without it. */
const LAMP: readonly [number, number] = [1.5, 2.4]
const LAMP_TINT = [1.1, 1, 0.8]
/** Radius at which a Gaussian has fallen to a fifth, in sigmas. */
const FIFTH = 1.794

/**
 * Chooses what stands where and for how long.
 *
 * @param box    the region in the plate
 * @param empty  per frame: does the footage show the region empty?
 * @param number of the window: what follows what
 */
export function chooseStanding(
  box: Rect,
  window: readonly number[],
  frames: readonly number[],
  empty: readonly boolean[],
  { number, seed }: { number: number; seed: string },
): Standing {
  const random = randomFrom(`standing ${seed} ${number}`)
  const from = frames.indexOf(window[0])
  const to = frames.indexOf(window[window.length - 1])
  let best = { first: from, last: to, donors: -1 }
  for (let draw = 0; draw < DRAWS && best.donors < MIN_DONORS; draw++) {
    const length = Math.round(frames.length * between(SHARE, random()))
    const nearer = Math.min(Math.round(between(NEARER_END, random())), (length - window.length) >> 1)
    // Not always in the middle: the window lies near one end of the stretch.
    let first = random() < 0.5 ? from - nearer : to + nearer - length + 1
    first = Math.max(0, Math.min(frames.length - length, first))
    const last = first + length - 1
    if (first > from - 3 && first > 0) continue
    if (last < to + 3 && last < frames.length - 1) continue
    const donors = empty.filter((e, i) => e && i >= first && i <= last && (i < from || i > to)).length
    if (donors > best.donors) best = { first, last, donors }
  }
  const ends = { first: frames[best.first], last: frames[best.last] }
  const turn = TURNS[(number - 1) % TURNS.length]
  const x = box.x + box.w * (0.35 + 0.3 * random())
  const y = box.y + box.h * (0.35 + 0.3 * random())
  if (turn === 'lamp') {
    const reach = FIFTH * (14 + 10 * random())
    const gain = between(LAMP, random())
    const contrast = LAMP_TINT.map((t) => 1 + (gain - 1) * t)
    return {
      what: 'lamp',
      shape: 'round',
      ...ends,
      box: around(x, y, reach, reach),
      contrast: triple(contrast),
    }
  }
  // Some lie within the mask, where the surround knows nothing of them; some stick out of it.
  const size = number % 3 === 0 ? 0.95 : 0.5
  const w = (box.w / 2) * size * (0.8 + 0.4 * random())
  const h = (box.h / 2) * size * (0.8 + 0.4 * random())
  const shade = CONTRASTS[Math.floor(CONTRASTS.length * random())]
  const contrast = [0, 1, 2].map(() => shade * (0.9 + 0.2 * random()))
  return { what: 'crate', shape: turn, ...ends, box: around(x, y, w, h), contrast: triple(contrast) }
}

/** Is the pixel (x, y) of the plate hidden by it, so that nobody who passes behind is seen there? */
export function hides({ what, shape, box }: Standing, x: number, y: number): boolean {
  return what === 'crate' && within(shape, box, x + 0.5, y + 0.5)
}

/**
 * Makes the painter of one case's frames. The thing takes its light from the footage: it follows the exposure of the
 * place, and it carries as much grain as the footage does.
 *
 * @param clean   the window's middle frame as the plate shows it, linear light, nobody in the region
 * @param another the window's last frame, from whose difference the grain is taken
 */
export function standingPainter(
  standing: Standing,
  clean: Picture,
  another: Picture,
  key: string,
): (shown: Picture, frame: number) => void {
  const { first, last, what } = standing
  const colour = meanOf(clean, standing.box).map((v, c) => Math.max(0.01, v * standing.contrast[c]))
  const stuff = cloth(`standing ${key}`, colour)
  const grain = grainOf(clean, another)
  return (shown, frame) => {
    if (frame < first || frame > last) return
    if (what === 'lamp') light(shown, standing)
    else putDown(shown, standing, stuff.at, exposureOf(shown, clean), grain, `grain ${key} ${frame}`)
  }
}

function light(shown: Picture, { box, contrast }: Standing): void {
  const sigma = box.w / 2 / FIFTH
  const reach = grow(box, Math.round(box.w / 2))
  each(shown, reach, (x, y, i) => {
    const u = (x + 0.5 - box.x - box.w / 2) / sigma
    const v = (y + 0.5 - box.y - box.h / 2) / sigma
    const share = Math.exp(-0.5 * (u * u + v * v))
    for (let c = 0; c < 3; c++) shown.data[i + c] *= 1 + (contrast[c] - 1) * share
  })
}

/** The thing, smooth at its edges, and a soft shadow at its foot, to the right. */
function putDown(
  shown: Picture,
  { shape, box }: Standing,
  colourAt: (x: number, y: number, out: Float64Array) => void,
  exposure: readonly number[],
  grain: number,
  key: string,
): void {
  const random = randomFrom(key)
  const rgb = new Float64Array(3)
  each(shown, grow(box, SHADOW_PX), (x, y, i) => {
    const u = (x + 0.5 - box.x - 0.6 * box.w) / (0.5 * box.w + SHADOW_PX / 2)
    const v = (y + 0.5 - box.y - 0.7 * box.h) / (0.4 * box.h + SHADOW_PX / 2)
    const shadow = 1 - SHADOW * Math.exp(-2 * (u * u + v * v) ** 2)
    let cover = 0
    for (let s = 0; s < 4; s++)
      if (within(shape, box, x + 0.25 + 0.5 * (s & 1), y + 0.25 + 0.5 * (s >> 1))) cover += 0.25
    if (cover > 0) stuffAt(x - box.x, y - box.y)
    for (let c = 0; c < 3; c++) shown.data[i + c] = (1 - cover) * shadow * shown.data[i + c] + cover * rgb[c]
  })

  function stuffAt(x: number, y: number): void {
    colourAt(x, y, rgb)
    for (let c = 0; c < 3; c++) {
      const display = toDisplay(rgb[c] * exposure[c]) + grain * normal(random)
      rgb[c] = toLinear(Math.max(0, Math.min(1, display)))
    }
  }
}

const SHADOW = 0.35
const SHADOW_PX = 8

function within(shape: Shape, box: Rect, x: number, y: number): boolean {
  const u = (2 * (x - box.x)) / box.w - 1
  const v = (2 * (y - box.y)) / box.h - 1
  if (Math.abs(u) > 1 || Math.abs(v) > 1) return false
  if (shape === 'box') return true
  if (shape === 'round') return u * u + v * v <= 1
  // A heap: steps up to the left, as bags thrown on each other.
  return v > -0.2 ? Math.abs(v - 0.4) ** 3 + Math.abs(u) ** 3 <= 1 : (u + 0.35) ** 2 + v * v <= 0.5
}

/** Display-encoded standard deviation of the grain: MAD of the difference of two frames, over the square root of two. */
function grainOf(a: Picture, b: Picture): number {
  const off: number[] = []
  for (let i = 0; i < a.data.length; i += 7) off.push(Math.abs(toDisplay(a.data[i]) - toDisplay(b.data[i])))
  return (1.4826 * median(off)!) / Math.SQRT2
}

/** Per channel, what the light of `shown` is over that of `clean`: the median over the plate, so that few who pass count. */
function exposureOf(shown: Picture, clean: Picture): number[] {
  return [0, 1, 2].map((c) => {
    const ratios: number[] = []
    for (let i = c; i < clean.data.length; i += 51)
      if (clean.data[i] > 0.01) ratios.push(shown.data[i] / clean.data[i])
    return median(ratios) ?? 1
  })
}

function meanOf(shown: Picture, box: Rect): number[] {
  const sum = [0, 0, 0]
  let n = 0
  each(shown, box, (_x, _y, i) => {
    for (let c = 0; c < 3; c++) sum[c] += shown.data[i + c]
    n++
  })
  return sum.map((s) => s / Math.max(1, n))
}

function each(shown: Picture, box: Rect, visit: (x: number, y: number, i: number) => void): void {
  for (let y = Math.max(0, box.y); y < Math.min(shown.height, box.y + box.h); y++) {
    for (let x = Math.max(0, box.x); x < Math.min(shown.width, box.x + box.w); x++)
      visit(x, y, 3 * (y * shown.width + x))
  }
}

function around(x: number, y: number, w: number, h: number): Rect {
  return {
    x: Math.round(x - w),
    y: Math.round(y - h),
    w: Math.round(2 * w),
    h: Math.round(2 * h),
  }
}

function between([low, high]: readonly [number, number], share: number): number {
  return low + (high - low) * share
}

function triple([red, green, blue]: readonly number[]): [number, number, number] {
  return [red, green, blue]
}
