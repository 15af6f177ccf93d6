// Smoothing and halving of planes, for coarse-to-fine search. Each writes into a new plane, or into samples that are
// given, as many as it makes.
import type { Plane } from '../raster/plane.js'
import type { Workspace } from './workspace.js'

/** [1 4 6 4 1] / 16 both ways: the usual binomial low pass, sigma 1 px. Edge samples are repeated. */
export function smooth(
  workspace: Workspace,
  source: Plane,
  out: Float32Array = new Float32Array(source.data.length),
): Plane {
  const { x, y, width, height, data } = source
  if (data.length > 0) {
    workspace.run((kernels, room) =>
      kernels.smooth(room.read(data), room.write(out), room.space(4 * (width + 4)), width, height),
    )
  }
  return { x, y, width, height, data: out }
}

/**
 * Half the size by averaging 2 x 2 pixels; an odd last row or column is left out. The corner keeps its plate position
 * in half-size pixels, so it must be even for two planes to be comparable.
 */
export function halve(
  workspace: Workspace,
  source: Plane,
  out: Float32Array = new Float32Array((source.width >> 1) * (source.height >> 1)),
): Plane {
  const { width, height } = source
  workspace.run((kernels, room) => kernels.halve(room.read(source.data), room.write(out), width, height))
  return { x: source.x >> 1, y: source.y >> 1, width: width >> 1, height: height >> 1, data: out }
}
