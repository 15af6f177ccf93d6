// What a camera that moves shows of one frame of the footage: one layer or two, in the light of its take.
import { apply, invert, type Transform } from '../../src/raster/transform.js'
import { type Picture, warped } from '../resample.js'
import type { Case } from './case.js'
import type { Layers } from './moving.js'

export function showMoving(
  whole: Picture,
  { crop, frames, layers, motion, take }: Case,
  index: number,
): Picture {
  const { pose, near, stops } = motion[index]
  const rect = { left: 0, top: 0, width: crop.w, height: crop.h }
  const shown = warped(whole, rect, pose!, 'bicubic')
  if (near !== undefined) layNear(shown, whole, near, layers!)
  const other = take?.frames.includes(frames[index])
  const gains = [0, 1, 2].map((c) => 2 ** stops * (other ? take!.gain[c] : 1))
  if (gains.some((gain) => gain !== 1))
    for (let i = 0; i < shown.data.length; i++) shown.data[i] *= gains[i % 3]
  return shown
}

/** The near layer's edge is one footage pixel wide. */
function layNear(shown: Picture, whole: Picture, near: Transform, { nearFrom }: Layers): void {
  const { width, height } = shown
  const share = shareAt(near, nearFrom)
  // Rows above the first that shows any of it are left alone.
  let top = 0
  while (top < height && share(0, top) <= 0 && share(width - 1, top) <= 0) top++
  const above = warped(whole, { left: 0, top, width, height: height - top }, near, 'bicubic')
  for (let i = top * width, from = 0; i < width * height; i++, from += 3) {
    const part = Math.max(0, Math.min(1, share(i % width, Math.floor(i / width))))
    for (let c = 0; c < 3; c++) shown.data[3 * i + c] += part * (above.data[from + c] - shown.data[3 * i + c])
  }
}

function shareAt(near: Transform, nearFrom: number): (x: number, y: number) => number {
  const back = invert(near)
  return (x, y) => apply(back, x, y).y - nearFrom + 0.5
}
