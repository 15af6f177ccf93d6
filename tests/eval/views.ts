// Where the views of a camera that moves lie in the footage, which is their wide still world: a matrix for every frame.
import type { Rect } from '../../src/raster/rect.js'
import { apply, compose, invert, shift, type Transform } from '../../src/raster/transform.js'
import { normal } from '../random.js'
import { middleOf } from './case.js'
import type { Footage } from './footage.js'
import type { Motion, Variant } from './motion.js'
import type { Window } from './pick-windows.js'

/**
 * `pan` goes sideways and comes back, as far as the footage has room; `tripod` turns about its lens as well: tilt, roll and
 * zoom; `handheld` is carried about in front of two layers, of which the near one moves further; `reframe` is two takes
 * from a camera that stands, the second one framed, lit and balanced otherwise.
 */
const MOVING = ['pan', 'tripod', 'handheld', 'reframe'] as const
export type Moving = (typeof MOVING)[number]

export function isMoving(variant: Variant): variant is Moving {
  return (MOVING as readonly string[]).includes(variant)
}

/** A second plate: the frames of the footage that are in it and not in the target's. */
export interface Take {
  readonly frames: readonly number[]
  /** Linear-light factor per channel beside the exposure. */
  readonly gain: readonly number[]
}

/** What a view shows of the footage: all in it must be there. */
interface View {
  /** Place of the footage in the middle of the view. */
  readonly x: number
  readonly y: number
  /** Clockwise, radians. */
  readonly roll: number
  readonly zoom: number
}

export interface Size {
  readonly width: number
  readonly height: number
}

/** Between the region and a target frame's edge, pixels. */
const FROM_EDGE = 16
/** Taps of the filter that plants. */
const TAPS = 4
const PAN_PX_PER_FRAME = 1.5
/** How sharply a pan turns round: 1 would be at once. */
const TURNING = 0.98
const ROLL = (2 * Math.PI) / 180
const ZOOM = 0.04
/** Focal length over the width of the frame: 31 degrees from left to right. */
const LENS = 1.8
/** Carried by hand: slow waves of so many pixels and frames, jitter of the place and of the roll, breath of the zoom. */
const DRIFT = [
  { px: 18, frames: 131 },
  { px: 6, frames: 47 },
]
const HAND_PX = 0.5
const HAND_ROLL = ROLL / 4
const HAND_ROLL_JITTER = ROLL / 60
const HAND_ZOOM = 0.01
/** How far from the footage's edges a drifting view stays. */
const HAND_NEEDS = { x: 42, y: 28 }
/** What is near moves by this much more. */
const NEARER = 0.35
/** Another take: smaller, further along, rolled, darker and warmer. */
const TAKE = { zoom: 0.92, px: 24, roll: (1.2 * Math.PI) / 180, stops: -0.6, gain: [1.06, 1, 0.9] }
const SHRINK = 0.97
const ROUNDING = 1e-6

export type Views = { readonly motion: Motion[]; readonly take?: Take }

export function viewsOf(
  variant: Moving,
  footage: Footage,
  size: Size,
  window: Window,
  random: () => number,
): Views {
  if (variant === 'reframe') return takes(footage, size, window, random)
  const phases = Array.from({ length: 8 }, () => 2 * Math.PI * random())
  const jitter = footage.frames.map(() => [normal(random), normal(random), normal(random)])
  const leftwards = random() < 0.5
  // As far as the footage has room: from too far back to what fits.
  for (let room = 1; room > 0.05; room *= SHRINK) {
    const motion = { pan, tripod, handheld }[variant](footage, size, window, {
      room,
      phases,
      jitter,
      leftwards,
    })
    const fits = motion.every(
      ({ pose, near }) =>
        isInside(pose!, size, footage) && (near === undefined || isInside(near, size, footage)),
    )
    const shows = window.frames.every((f) =>
      isShown(motion[footage.frames.indexOf(f)].pose!, window.box, size),
    )
    if (fits && shows) return { motion }
  }
  throw new Error(`${footage.plate.spec} has no room for a camera that moves: choose larger footage`)
}

interface Chance {
  /** Share of the way from the middle to the edge that the view may go. */
  readonly room: number
  readonly phases: readonly number[]
  readonly jitter: readonly (readonly number[])[]
  readonly leftwards: boolean
}

function pan(footage: Footage, size: Size, window: Window, chance: Chance): Motion[] {
  const room = roomsOf(footage, size, chance.room)
  const { x, y } = homeOf(window, room, footage)
  const path = panned(footage, room.width, window, x, chance.leftwards)
  return path.map((at) => motionOf(flat({ x: at, y, roll: 0, zoom: 1 }, size)))
}

function tripod(footage: Footage, size: Size, window: Window, chance: Chance): Motion[] {
  const room = roomsOf(footage, size, chance.room)
  const home = homeOf(window, room, footage)
  const path = panned(footage, room.width, window, home.x, chance.leftwards)
  const middle = footage.frames.indexOf(middleOf(window))
  const [tilt, roll, zoom] = chance.phases
  const wave = (f: number, period: number, phase: number) => Math.sin((2 * Math.PI * f) / period + phase)
  // The tilt is where it has to be at the middle target frame, and waves as far as there is room.
  const off = (home.y - (footage.height - 1) / 2) / room.height
  const start = Math.asin(Math.max(-1, Math.min(1, off)))
  return path.map((x, f) =>
    motionOf(
      turned(
        {
          x,
          y: (footage.height - 1) / 2 + room.height * Math.sin((2 * Math.PI * (f - middle)) / 173 + start),
          roll: ROLL * wave(f, 149, roll),
          zoom: 1 + ZOOM * wave(f, 113, zoom + tilt),
        },
        size,
        footage,
      ),
    ),
  )
}

function handheld(footage: Footage, size: Size, window: Window, chance: Chance): Motion[] {
  const { phases, jitter, room } = chance
  const { width, height } = roomsOf(footage, size, 1)
  const left = { width: width - room * HAND_NEEDS.x, height: height - room * HAND_NEEDS.y }
  const base = homeOf(window, left, footage)
  return footage.frames.map((_, f) => {
    const view = { ...base, roll: HAND_ROLL_JITTER * jitter[f][2], zoom: 1 }
    for (const [i, { px, frames }] of DRIFT.entries()) {
      view.x += room * px * Math.sin((2 * Math.PI * f) / frames + phases[2 * i])
      view.y += 0.6 * room * px * Math.sin((2 * Math.PI * f) / (1.13 * frames) + phases[2 * i + 1])
    }
    view.x += HAND_PX * jitter[f][0]
    view.y += HAND_PX * jitter[f][1]
    view.roll += HAND_ROLL * Math.sin((2 * Math.PI * f) / 89 + phases[4])
    view.zoom += HAND_ZOOM * Math.sin((2 * Math.PI * f) / 151 + phases[5])
    const far = flat(view, size)
    const nearer = shift(NEARER * (base.x - view.x), NEARER * (base.y - view.y))
    return { ...motionOf(far), near: compose(nearer, far) }
  })
}

/**
 * The half of the footage's time that holds the window is the take to repair: somebody stands in the region in each of its
 * frames, so that it can lend nothing of it, as is why anybody turns to another take. To bar its empty frames by
 * `notFrames` instead would leave the search the clean plate that they show. The other half is the other take.
 */
function takes(footage: Footage, size: Size, window: Window, random: () => number): Views {
  const { frames } = footage
  const half = frames.length >> 1
  const first = frames.indexOf(window.frames[0])
  const last = first + window.frames.length - 1
  const isOther =
    first + last < frames.length
      ? (i: number) => i >= Math.max(half, last + 1)
      : (i: number) => i < Math.min(half, first)
  const sign = () => (random() < 0.5 ? -1 : 1)
  const signs = [sign(), sign(), sign()]
  const { gain, stops, px, roll, zoom } = TAKE
  for (let room = 1; room > 0.05; room *= SHRINK) {
    const home = homeOf(window, roomsOf(footage, size, room), footage)
    const here = { x: Math.floor(home.x) + 0.5, y: Math.floor(home.y) + 0.5, roll: 0, zoom: 1 }
    const there = { x: here.x + signs[0] * px, y: here.y + (signs[1] * px) / 2, roll: signs[2] * roll, zoom }
    const [pose, other] = [flat(here, size), flat(there, size)]
    if (!isInside(pose, size, footage) || !isInside(other, size, footage)) continue
    const motion = frames.map((_, i) => (isOther(i) ? { ...motionOf(other), stops } : motionOf(pose)))
    return { motion, take: { frames: frames.filter((_, i) => isOther(i)), gain } }
  }
  throw new Error(`${footage.plate.spec} has no room for another take: choose larger footage`)
}

function motionOf(pose: Transform): Motion {
  return { stops: 0, dx: 0, dy: 0, pose }
}

/** How far the middle of a view may lie from the footage's, pixels. */
function roomsOf(footage: Size, size: Size, share: number): Size {
  const room = (whole: number, shown: number) => share * Math.max(0, (whole - shown) / 2 - TAPS)
  return { width: room(footage.width, size.width), height: room(footage.height, size.height) }
}

/** A view that has the region well inside, between its middle and the footage's as far as there is room. */
function homeOf({ box }: Window, room: Size, footage: Size): { x: number; y: number } {
  const along = (whole: number, far: number, at: number, length: number) => {
    const middle = (whole - 1) / 2
    const off = (at + (length - 1) / 2 - middle) / 2
    return middle + Math.max(-far, Math.min(far, off))
  }
  return {
    x: along(footage.width, room.width, box.x, box.w),
    y: along(footage.height, room.height, box.y, box.h),
  }
}

/** From one side of the room to the other and back, slowing down where it turns; at `x` at the middle target frame. */
function panned(footage: Footage, far: number, window: Window, x: number, leftwards: boolean): number[] {
  const middle = (footage.width - 1) / 2
  const period = (4 * far) / PAN_PX_PER_FRAME
  const at = footage.frames.indexOf(middleOf(window))
  const share = Math.max(-1, Math.min(1, (x - middle) / far))
  const start = Math.asin(Math.sin(share * Math.asin(TURNING)) / TURNING)
  const direction = leftwards ? -1 : 1
  return footage.frames.map((_, f) => {
    const turn = start + direction * ((2 * Math.PI * (f - at)) / period)
    return middle + (far * Math.asin(TURNING * Math.sin(turn))) / Math.asin(TURNING)
  })
}

/** Moved, rolled and zoomed in its plane. */
function flat({ x, y, roll, zoom }: View, { width, height }: Size): Transform {
  const [c, s] = [zoom * Math.cos(roll), zoom * Math.sin(roll)]
  const about: Transform = [c, -s, 0, s, c, 0, 0, 0, 1]
  const at = shift((width - 1) / 2, (height - 1) / 2)
  return roll === 0 && zoom === 1 ? compose(at, shift(-x, -y)) : compose(compose(at, about), shift(-x, -y))
}

/**
 * Turned about the lens: K R inverse(K) with the footage's K on the right and the frame's, zoomed, on the left. R. Hartley,
 * A. Zisserman, Multiple View Geometry (2nd edition, 2003), section 8.4.
 */
function turned({ x, y, roll, zoom }: View, { width, height }: Size, footage: Size): Transform {
  const f = LENS * width
  const [u, v] = [x - (footage.width - 1) / 2, y - (footage.height - 1) / 2]
  const pan = Math.atan2(u, f)
  const tilt = Math.atan2(v, Math.hypot(u, f))
  const [cp, sp, ct, st, cr, sr] = [pan, tilt, roll].flatMap((a) => [Math.cos(a), Math.sin(a)])
  const sideways: Transform = [cp, 0, -sp, 0, 1, 0, sp, 0, cp]
  const upwards: Transform = [1, 0, 0, 0, ct, -st, 0, st, ct]
  const rolled: Transform = [cr, -sr, 0, sr, cr, 0, 0, 0, 1]
  const lens = (focal: number, size: Size): Transform => {
    return [focal, 0, (size.width - 1) / 2, 0, focal, (size.height - 1) / 2, 0, 0, 1]
  }
  const turn = compose(rolled, compose(upwards, sideways))
  return compose(lens(f * zoom, { width, height }), compose(turn, invert(lens(f, footage))))
}

/** Is the picked place well inside the frame? */
function isShown(pose: Transform, box: Rect, { width, height }: Size): boolean {
  const within = (v: number, length: number) => v >= FROM_EDGE && v <= length - 1 - FROM_EDGE
  return cornersOf(box).every(([x, y]) => {
    const at = apply(pose, x, y)
    return within(at.x, width) && within(at.y, height)
  })
}

function cornersOf({ x, y, w, h }: Rect): [x: number, y: number][] {
  return [x, x + w - 1].flatMap((u) => [y, y + h - 1].map((v): [number, number] => [u, v]))
}

/** Is all that the frame shows, and the filter's taps, in the footage? */
function isInside(pose: Transform, { width, height }: Size, footage: Size): boolean {
  const back = invert(pose)
  const within = (v: number, length: number) => v >= TAPS - ROUNDING && v <= length - 1 - TAPS + ROUNDING
  return cornersOf({ x: 0, y: 0, w: width, h: height }).every(([x, y]) => {
    const at = apply(back, x, y)
    return within(at.x, footage.width) && within(at.y, footage.height)
  })
}
