// What of a patch's sharpness somebody should look at.
import type { Patch } from './patch.js'

export function sharpnessWarnings({ sharpness }: Pick<Patch, 'sharpness'>): string[] {
  if (sharpness === undefined || sharpness.softer === 0) return []
  return [
    `the donors are softer than the plate, as by a blur of ${sharpness.softer.toFixed(2)} px (sigma): the patch is not sharpened`,
  ]
}
