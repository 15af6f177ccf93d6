// What is left of the donors' detail in a patch.
import { energySums } from '../../kernels/patch.js'
import type { Workspace } from '../../kernels/workspace.js'
import type { Frame } from '../../raster/frame.js'
import { dilate } from '../../region/region.js'
import { DETAIL_PX } from '../grain/detail-spectrum.js'
import { AROUND_PX, detailEnergy } from '../grain/fit.js'
import { hasHoles } from '../lend.js'

/** 1 per pixel that is near a hole in who lends, whose edge is no detail; null where there is none. */
export function nearHoles(there: Readonly<Uint8Array>, width: number): Uint8Array | null {
  if (!hasHoles(there)) return null
  const holes = new Uint8Array(there.length)
  for (let i = 0; i < holes.length; i++) holes[i] = 1 - there[i]!
  return dilate(holes, width, there.length / width, DETAIL_PX + AROUND_PX)
}

/**
 * Where a patch is laid all over.
 *
 * @param energy of the donors by themselves
 * @param out    1 per pixel that does not count; null: all count
 */
export function detailRatio(
  workspace: Workspace,
  patch: Frame,
  energy: Readonly<Float32Array>,
  alpha: Readonly<Float32Array>,
  out: Readonly<Uint8Array> | null,
): number | null {
  return workspace.within((scratch) => {
    const own = detailEnergy(workspace, patch, scratch.floats(alpha.length))
    const [has, donors] = energySums(workspace, own, energy, alpha, out)
    return donors > 0 ? Math.sqrt(has / donors) : null
  })
}
