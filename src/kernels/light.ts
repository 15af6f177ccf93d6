// What goes with light by a power law.
import type { Workspace } from './workspace.js'

/**
 * Turns samples of light into `level * max(darkest, light) ** power`, in place, to 5e-7 of it. What is not finite comes out
 * as some number.
 */
export function powerLaw(
  workspace: Workspace,
  light: Float32Array,
  level: number,
  power: number,
  darkest: number,
): void {
  workspace.run((kernels, room) => kernels.powerLaw(room.change(light), light.length, level, power, darkest))
}
