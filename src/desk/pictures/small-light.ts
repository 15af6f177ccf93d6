// What the strip is measured on: a frame's log luminance, small, in memory that all threads see; and how far one moved since the
// other, by the alignment that follows a camera on whole frames.
import type { Workspace } from '../../kernels/workspace.js'
import { smallLogLuminance } from '../../match/log-luminance.js'
import { layPlanar } from '../../match/planar.js'
import { planarDonor, preparePlanar } from '../../match/planar-picture.js'
import { apply, IDENTITY } from '../../raster/transform.js'
import { MIN_SAME } from '../../track/camera/follow.js'
import type { ProxyPicture } from './proxy.js'

/** The longer side is at most so long: a frame moves by a tenth of a plate's pixel there at 2K, which is enough to see a bump. */
const SMALL_PX = 192
/** Where less of one is seen on the other, nothing tells. */
const MIN_OVERLAP = 0.2

export interface SmallLight {
  readonly width: number
  readonly height: number
  /** Plate pixels of a side per pixel. */
  readonly factor: number
  /** log2 luminance, row-major, in a SharedArrayBuffer. */
  readonly log: Float32Array
  /** 1 where a pixel is finite all over; likewise. */
  readonly known: Uint8Array
}

export function smallLight(
  workspace: Workspace,
  { width, height, factor, halves }: ProxyPicture,
): SmallLight {
  const smaller = Math.max(1, Math.ceil(Math.max(width, height) / SMALL_PX))
  const rect = { x: 0, y: 0, w: width, h: height }
  // What is clipped is as bright as it says here: a strip is about what is seen.
  const made = smallLogLuminance(workspace, halves, rect, smaller, Number.POSITIVE_INFINITY)
  const log = new Float32Array(new SharedArrayBuffer(made.log.data.byteLength))
  log.set(made.log.data)
  const known = new Uint8Array(new SharedArrayBuffer(made.known.byteLength))
  known.set(made.known)
  return { width: made.log.width, height: made.log.height, factor: factor * smaller, log, known }
}

/** Mean of log2 luminance over what is known; null where nothing is. */
export function meanLight({ log, known }: SmallLight): number | null {
  let [sum, n] = [0, 0]
  for (let i = 0; i < log.length; i++)
    if (known[i] === 1) {
      sum += log[i]!
      n++
    }
  return n > 0 ? sum / n : null
}

/** How far `after` has moved since `before`, plate pixels; null where they are too plain or too different to tell. */
export function movement(workspace: Workspace, before: SmallLight, after: SmallLight): number | null {
  if (before.width !== after.width || before.height !== after.height) return null
  const plane = ({ width, height, log }: SmallLight) => ({ x: 0, y: 0, width, height, data: log })
  const reference = preparePlanar(workspace, plane(before), Float32Array.from(before.known))
  if (reference === null) return null
  const donor = planarDonor(workspace, plane(after), after.known, reference.knee)
  const laid = layPlanar(reference, donor, IDENTITY, 'shift')
  if (laid === null || laid.ncc < MIN_SAME || laid.overlap < MIN_OVERLAP) return null
  const { x, y } = apply(laid.transform, 0, 0)
  return Math.hypot(x, y) * after.factor
}
