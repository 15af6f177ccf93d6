// Whole frames brought down by a whole factor in linear light, as half floats in memory that all threads see: what
// exposure, gamma and look are applied to again and again, without decoding again.
import { halfMeans } from '../../kernels/half-means.js'
import type { Workspace } from '../../kernels/workspace.js'

export interface ProxyPicture {
  /** Plate pixels of a side per pixel; the last columns and rows that don't fill one are left out. */
  readonly factor: number
  readonly width: number
  readonly height: number
  /** Linear RGB, row-major, in a SharedArrayBuffer; NaN where there is no picture. */
  readonly halves: Uint16Array
}

export function proxyOf(
  workspace: Workspace,
  halves: Readonly<Uint16Array>,
  width: number,
  height: number,
  factor: number,
): ProxyPicture {
  const [w, h] = [Math.floor(width / factor), Math.floor(height / factor)]
  const out = new Uint16Array(new SharedArrayBuffer(2 * 3 * w * h))
  if (factor === 1) out.set(halves)
  else halfMeans(workspace, halves, width, factor, out)
  return { factor, width: w, height: h, halves: out }
}
