// What a picture's noise is told by.
import type { Workspace } from './workspace.js'

/** What is asked of a picture. */
export interface Noisy {
  /** Interleaved RGB, light. */
  readonly rgb: Readonly<Float32Array>
  /** Tells where it is above 0. */
  readonly inside: Readonly<Float32Array>
  readonly width: number
}

/**
 * Sums over roots of green, but for the picture's edge: of the size of what the mask of J. Immerkaer, Fast Noise Variance Estimation
 * (CVIU 1996), eq. 3, makes of them, and of themselves; NaN where one is no number. Roots of light below 0 are 0.
 */
export function rootNoise(
  workspace: Workspace,
  { rgb, inside, width }: Noisy,
): [noise: number, roots: number] {
  return workspace.run((kernels, room) => {
    const { answer } = room
    const roots = room.space(4 * inside.length)
    kernels.greenRoots(room.read(rgb), roots, inside.length)
    kernels.noiseSums(roots, room.read(inside), width, inside.length / width, answer.byteOffset)
    return [answer[0]!, answer[1]!]
  })
}
