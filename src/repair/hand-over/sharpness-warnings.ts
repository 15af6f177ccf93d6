// What of a patch's sharpness somebody should look at.
import { printFrames } from '../../footage/frames.js'
import type { Patch } from './patch.js'

export function sharpnessWarnings({ sharpness, frames }: Pick<Patch, 'sharpness' | 'frames'>): string[] {
  const warnings: string[] = []
  if (sharpness !== undefined && sharpness.softer > 0)
    warnings.push(
      `the donors are softer than the plate, as by a blur of ${sharpness.softer.toFixed(2)} px (sigma): the patch is not sharpened`,
    )
  for (const [blurred, sharp] of [
    ['plate', 'donor'],
    ['donor', 'plate'],
  ] as const) {
    const on = frames.filter((f) => f.motionBlur === blurred).map((f) => f.target)
    if (on.length === 0) continue
    warnings.push(
      `on frame${on.length > 1 ? 's' : ''} ${printFrames(on)} the ${blurred} is blurred in one direction, as by the camera's movement, and the ${sharp} is not`,
    )
  }
  return warnings
}
