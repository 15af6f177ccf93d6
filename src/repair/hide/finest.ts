// The finest of one picture put in the place of another's, over all that counts.
import { boxMean } from '../../kernels/box.js'
import { addFinest, commonPixels, finestOf, type Planes } from '../../kernels/finest.js'
import type { Scratch, Workspace } from '../../kernels/workspace.js'
import { hasHoles } from '../lend.js'

/** What differs over more than so many pixels either way is light and not grain. */
const LIGHT_PX = 32

/** 1 per pixel that counts, and how many of those there are round each pixel: a share. */
export type Counted = readonly [counts: Readonly<Float32Array>, around: Readonly<Float32Array>]

/**
 * @param own   linear RGB; changed
 * @param other the same, at its light
 * @param times what the other's finest is multiplied by
 */
export function layFinest(
  workspace: Workspace,
  scratch: Scratch,
  own: Float32Array,
  other: Readonly<Float32Array>,
  counted: Counted,
  width: number,
  times = 1,
): void {
  const [counts, around] = counted.map((plane) => scratch.laid(plane)) as [Float32Array, Float32Array]
  const planes = (): Planes => [
    scratch.floats(counts.length),
    scratch.floats(counts.length),
    scratch.floats(counts.length),
  ]
  const [more, light] = [planes(), planes()]
  finestOf(workspace, own, other, counts, times, more)
  for (const [c, plane] of more.entries()) boxMean(workspace, plane, width, LIGHT_PX, light[c]!)
  addFinest(workspace, more, light, around, counts, own)
}

/** Of a mask, and of donors that are there all over. */
const countedAll = new WeakMap<Readonly<Float32Array>, Counted>()

/** The pixels of a mask where both are there. */
export function countedIn(
  workspace: Workspace,
  inside: Readonly<Float32Array>,
  there: Readonly<Uint8Array>,
  also: Readonly<Uint8Array>,
  width: number,
): Counted {
  const isWhole = !hasHoles(there) && !hasHoles(also)
  const known = isWhole ? countedAll.get(inside) : undefined
  if (known !== undefined) return known
  const counts = new Float32Array(inside.length)
  commonPixels(workspace, inside, there, also, counts)
  const counted = [counts, boxMean(workspace, counts, width, LIGHT_PX)] as const
  if (isWhole) countedAll.set(inside, counted)
  return counted
}
