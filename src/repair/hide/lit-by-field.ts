// Lent pixels brought to the light of the target, in linear light.
import { gained, multiplyField } from '../../kernels/channels.js'
import type { Workspace } from '../../kernels/workspace.js'
import type { Rect } from '../../raster/rect.js'
import type { LightFieldEntry, StackShare } from '../../search/result.js'

/**
 * Multiplies by 2 to the power of the field's stops. Of every term but the last, 2uv, the factor is one of the column times
 * one of the row; 2uv goes along a row by a constant factor a pixel. So no power is taken per pixel.
 *
 * @param data linear RGB over `window`, row-major
 * @param out  receives it; may be `data`
 */
export function lightByField(
  workspace: Workspace,
  data: Readonly<Float32Array>,
  window: Rect,
  { x: left, y: top, span, stops }: LightFieldEntry,
  out: Float32Array,
): void {
  const across = new Float64Array(3 * window.w)
  const [starts, steps] = [new Float64Array(3 * window.h), new Float64Array(3 * window.h)]
  const first = (window.x - left) / span
  const term = (k: number, c: number) => stops[k]?.[c] ?? 0
  for (let c = 0; c < 3; c++) {
    const [linearU, linearV, square, twist] = [term(0, c), term(1, c), term(2, c), term(3, c)]
    for (let x = 0; x < window.w; x++) {
      const u = first + x / span
      across[3 * x + c] = 2 ** (linearU * u + square * u * u)
    }
    for (let y = 0; y < window.h; y++) {
      const v = (window.y + y - top) / span
      steps[3 * y + c] = 2 ** ((2 * twist * v) / span)
      starts[3 * y + c] = 2 ** (linearV * v - square * v * v + 2 * twist * v * first)
    }
  }
  multiplyField(workspace, data, { across, starts, steps }, out)
}

/** A donor's pixels as its share lights them. @param data,out as above */
export function litTo(
  workspace: Workspace,
  data: Readonly<Float32Array>,
  window: Rect,
  { gain, field }: Pick<StackShare, 'gain' | 'field'>,
  out: Float32Array,
): void {
  if (field) lightByField(workspace, data, window, field, out)
  gained(workspace, field ? out : data, gain, out)
}
