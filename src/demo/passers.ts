// People who pass: what they wear, and how they walk.
import type { Crowd } from './crowd.js'
import { drawFigure, type Look, type Step } from './figure.js'
import { type Walk, walkX } from './story.js'

export const LOOKS: readonly Look[] = [
  {
    tall: 1.74,
    coat: [0.095, 0.1, 0.105],
    sleeves: [0.09, 0.095, 0.1],
    legs: [0.12, 0.11, 0.095],
    skin: [0.4, 0.24, 0.17],
    hat: [0.12, 0.1, 0.08],
    head: 'brim',
    hem: 0,
    lean: 0.05,
  },
  {
    tall: 1.63,
    coat: [0.42, 0.24, 0.06],
    sleeves: [0.4, 0.225, 0.055],
    legs: [0.07, 0.055, 0.05],
    skin: [0.45, 0.28, 0.2],
    hat: [0.36, 0.09, 0.07],
    head: 'scarf',
    hem: 0.38,
    bag: [0.3, 0.2, 0.1],
    lean: 0.04,
  },
  {
    tall: 1.68,
    coat: [0.06, 0.14, 0.2],
    sleeves: [0.055, 0.13, 0.19],
    legs: [0.06, 0.055, 0.06],
    skin: [0.36, 0.2, 0.135],
    hat: [0.4, 0.37, 0.31],
    head: 'scarf',
    hem: 0.42,
    bag: [0.12, 0.07, 0.04],
    lean: 0.05,
  },
]

/** An easy stride, metres. */
const STRIDE = 1.36

/**
 * Draws someone who passes, if they are there at that time.
 *
 * @param start strides taken at the time of the walk's known place: people do not walk in step
 */
export function drawPasser(crowd: Crowd, walk: Walk, look: Look, time: number, start: number): void {
  if (time < walk.seen.from || time > walk.seen.to) return
  drawFigure(crowd, look, stepOf(walk, time, STRIDE, start))
}

/** The time is folded into strides by the way walked, so that feet and ground agree. */
export function stepOf(walk: Walk, time: number, stride: number, start: number): Step {
  const facing: 1 | -1 = walk.speed > 0 ? 1 : -1
  return {
    x: walkX(walk, time),
    scale: walk.scale,
    facing,
    phase: start + (Math.abs(walk.speed) * (time - walk.at)) / (walk.scale * stride),
    stride,
  }
}
