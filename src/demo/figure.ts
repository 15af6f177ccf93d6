// A walking figure: feet that stay where they are set down, knees and elbows that follow, weight that shifts.
import type { Colour, Crowd } from './crowd.js'
import { ANKLE, type Foot, footAt, joint, type Point, STANCE } from './gait.js'
import { SHADOW_AWAY, SHADOW_RIGHT } from './light.js'
import { lerp } from './shapes.js'
import { EYE_METRES, groundY, HORIZON, LENS } from './stage.js'

export interface Look {
  readonly tall: number
  readonly coat: Colour
  readonly sleeves: Colour
  readonly legs: Colour
  readonly skin: Colour
  readonly hat: Colour
  /** A brim round the hat, or a flat cap, or a scarf tied over the hair. */
  readonly head: 'brim' | 'cap' | 'scarf'
  /** Coat or skirt down to here, metres above the ground; 0 for none. */
  readonly hem: number
  /** A basket or bag in the near hand. */
  readonly bag?: Colour
  /** Forward lean, radians. */
  readonly lean: number
}

export interface Step {
  /** Hip over the ground, stage units. */
  readonly x: number
  readonly scale: number
  /** 1 walks to the right, -1 to the left. */
  readonly facing: 1 | -1
  /** Strides taken; a whole number sets the near heel down. */
  readonly phase: number
  /** Length of a stride (two steps), metres. */
  readonly stride: number
  /** Where both hands hold on, metres forward and up; absent: arms swing. */
  readonly grip?: readonly [number, number]
}

const THIGH = 0.455
const SHIN = 0.44
const UPPER_ARM = 0.3
const FOREARM = 0.29
/** Proportions are given for someone this tall, metres. */
const PATTERN_TALL = 1.75

/** Draws someone's shade and then the figure, from the far limbs to the near ones. */
export function drawFigure(crowd: Crowd, look: Look, step: Step): void {
  const unit = (step.scale * look.tall) / PATTERN_TALL
  const floor = groundY(step.scale)
  const px = (forward: number) => step.x + step.facing * forward * unit
  const py = (up: number) => floor - up * unit
  const limb = (a: Point, b: Point, ra: number, rb: number, colour: Colour, sky?: number) =>
    crowd.limb(px(a[0]), py(a[1]), px(b[0]), py(b[1]), ra * unit, rb * unit, colour, sky)

  // In the pattern's metres, so that feet stay put for short and tall alike.
  const stride = (step.stride * PATTERN_TALL) / look.tall
  const near = footAt(step.phase, stride)
  const far = footAt(step.phase + 0.5, stride)
  throwShade(crowd, step, look.tall, px, [near, far])

  const bob = 0.034 * Math.cos(4 * Math.PI * (step.phase - STANCE / 2))
  const hip: Point = [0, 0.93 + bob]
  const chest: Point = [hip[0] + 0.5 * Math.sin(look.lean), hip[1] + 0.5 * Math.cos(look.lean)]
  const swing = 0.42 * Math.cos(2 * Math.PI * step.phase)

  drawArm(limb, chest, step.grip, swing, shaded(look.sleeves), shaded(look.skin))
  drawLeg(limb, [hip[0] - 0.01, hip[1]], far, shaded(look.legs), 0.6)
  drawLeg(limb, hip, near, look.legs, 0.8)
  if (look.hem > 0) drawSkirt(crowd, look, px, py, hip, near, far)
  limb(
    hip,
    [lerp(hip[0], chest[0], 0.5), lerp(hip[1], chest[1], 0.5)],
    0.145,
    0.15,
    look.hem > 0 ? look.coat : look.legs,
  )
  limb(
    [lerp(hip[0], chest[0], 0.22), lerp(hip[1], chest[1], 0.22)],
    [chest[0], chest[1] - 0.05],
    0.148,
    0.168,
    look.coat,
  )
  drawHead(crowd, look, px, py, unit, chest)
  const hand = drawArm(limb, chest, step.grip, -swing, look.sleeves, look.skin)
  if (look.bag !== undefined) {
    const at: Point = [hand[0], hand[1] - 0.2]
    limb(hand, at, 0.018, 0.018, look.bag)
    crowd.ellipse(px(at[0]), py(at[1] - 0.07), 0.17 * unit, 0.115 * unit, look.bag)
  }
}

/** A coat's or skirt's lower part: it opens with the step and trails a little. */
function drawSkirt(
  crowd: Crowd,
  look: Look,
  px: (m: number) => number,
  py: (m: number) => number,
  hip: Point,
  near: Foot,
  far: Foot,
): void {
  const rise = 1 - look.hem / hip[1]
  const back = Math.min(-0.18, Math.min(near.x, far.x) * rise * 0.95 - 0.1)
  const front = Math.max(0.22, Math.max(near.x, far.x) * rise + 0.17)
  const waist = hip[1] + 0.12
  const corners = [
    px(-0.135),
    py(waist),
    px(0.135),
    py(waist),
    px(front),
    py(look.hem),
    px(back),
    py(look.hem + 0.02),
  ]
  crowd.facet(corners, look.coat, 0.42, 0.75)
  const fold = shaded(look.coat)
  for (const u of [0.35, 0.68]) {
    const foot = lerp(back, front, u)
    crowd.limb(px(lerp(-0.1, 0.1, u)), py(waist - 0.1), px(foot), py(look.hem + 0.02), 0.2, 1.3, fold, 0.6)
  }
}

type Limb = (a: Point, b: Point, ra: number, rb: number, colour: Colour, sky?: number) => void

function drawLeg(limb: Limb, hip: Point, foot: Foot, colour: Colour, sky: number): void {
  const ankle: Point = [foot.x, foot.y]
  const knee = joint(hip, ankle, THIGH, SHIN, 1)
  const c = Math.cos(foot.pitch)
  const s = Math.sin(foot.pitch)
  const heel: Point = [ankle[0] - 0.05 * c - 0.045 * s, ankle[1] - 0.045 * c + 0.05 * s]
  const toe: Point = [ankle[0] + 0.16 * c - 0.05 * s, ankle[1] - 0.055 * c - 0.16 * s]
  limb(heel, [toe[0], Math.max(0.028, toe[1])], 0.04, 0.03, BOOT, sky * 0.8)
  limb(knee, ankle, 0.074, 0.05, colour, sky * 0.9)
  limb(hip, knee, 0.108, 0.076, colour, sky)
}

const BOOT: Colour = [0.045, 0.036, 0.03]

function drawArm(
  limb: Limb,
  chest: Point,
  grip: Point | undefined,
  swing: number,
  sleeve: Colour,
  skin: Colour,
): Point {
  const shoulder: Point = [chest[0] - 0.01, chest[1] - 0.015]
  let hand: Point
  if (grip !== undefined) hand = grip
  else hand = [shoulder[0] + 0.55 * Math.sin(swing) + 0.03, shoulder[1] - 0.55 * Math.cos(swing) + 0.015]
  const elbow = joint(shoulder, hand, UPPER_ARM, FOREARM, -1)
  limb(shoulder, elbow, 0.068, 0.05, sleeve)
  limb(elbow, [lerp(elbow[0], hand[0], 0.82), lerp(elbow[1], hand[1], 0.82)], 0.05, 0.04, sleeve)
  limb([lerp(elbow[0], hand[0], 0.88), lerp(elbow[1], hand[1], 0.88)], hand, 0.034, 0.042, skin)
  return hand
}

function drawHead(
  crowd: Crowd,
  look: Look,
  px: (m: number) => number,
  py: (m: number) => number,
  unit: number,
  chest: Point,
): void {
  const neck: Point = [chest[0] + 0.03, chest[1] + 0.1]
  const head: Point = [neck[0] + 0.035, neck[1] + 0.125]
  crowd.limb(
    px(chest[0]),
    py(chest[1] + 0.02),
    px(neck[0]),
    py(neck[1] + 0.04),
    0.07 * unit,
    0.052 * unit,
    look.skin,
    0.6,
  )
  crowd.ellipse(px(head[0]), py(head[1]), 0.098 * unit, 0.122 * unit, look.skin)
  crowd.ellipse(px(head[0] + 0.1), py(head[1] - 0.015), 0.022 * unit, 0.02 * unit, look.skin)
  if (look.head === 'scarf') {
    crowd.ellipse(px(head[0] - 0.035), py(head[1] + 0.02), 0.105 * unit, 0.125 * unit, look.hat)
    crowd.limb(
      px(head[0] - 0.06),
      py(head[1] - 0.06),
      px(neck[0] - 0.05),
      py(neck[1] - 0.03),
      0.06 * unit,
      0.075 * unit,
      look.hat,
    )
    return
  }
  crowd.ellipse(px(head[0] - 0.045), py(head[1] - 0.005), 0.075 * unit, 0.1 * unit, HAIR, 0.7)
  if (look.head === 'brim') {
    crowd.ellipse(px(head[0] - 0.01), py(head[1] + 0.105), 0.095 * unit, 0.07 * unit, look.hat)
    crowd.limb(
      px(head[0] - 0.15),
      py(head[1] + 0.065),
      px(head[0] + 0.16),
      py(head[1] + 0.07),
      0.018 * unit,
      0.016 * unit,
      look.hat,
    )
  } else {
    crowd.ellipse(px(head[0] - 0.01), py(head[1] + 0.085), 0.118 * unit, 0.056 * unit, look.hat)
    crowd.limb(
      px(head[0] + 0.07),
      py(head[1] + 0.062),
      px(head[0] + 0.165),
      py(head[1] + 0.045),
      0.024 * unit,
      0.014 * unit,
      look.hat,
    )
  }
}

const HAIR: Colour = [0.07, 0.05, 0.038]

/** What turns away from the light or lies behind. */
function shaded(colour: Colour): Colour {
  return [colour[0] * 0.68, colour[1] * 0.7, colour[2] * 0.74]
}

/** Long soft shade away from the sun, and tight dark under the feet that touch the ground. */
function throwShade(
  crowd: Crowd,
  step: Step,
  tall: number,
  px: (m: number) => number,
  feet: readonly Foot[],
): void {
  const floor = groundY(step.scale)
  const away = shadeEnd(step.x, step.scale, tall)
  crowd.ground(
    step.x + 3,
    floor - 0.5,
    away.x,
    away.y,
    0.13 * step.scale,
    0.12 * step.scale,
    0.36 * step.scale,
    0.5,
  )
  for (const foot of feet) {
    const touch = Math.max(0, 1 - (foot.y - ANKLE) / 0.09)
    crowd.ground(
      px(foot.x - 0.05),
      floor,
      px(foot.x + 0.18),
      floor,
      0.04 * step.scale,
      3,
      5,
      0.25 + 0.45 * touch,
    )
  }
}

/** Where the shadow of a point above x falls on the ground, stage units. */
export function shadeEnd(x: number, scale: number, metres: number): { x: number; y: number } {
  const z = LENS / scale + SHADOW_AWAY * metres
  const s = LENS / z
  const across = (x - 480) / scale + SHADOW_RIGHT * metres
  return { x: 480 + across * s, y: HORIZON + EYE_METRES * s }
}
