// The colour of a change: a sky-lit shadow is bluer than what it falls on, a reflection takes the colour of its source.
import { LUMINANCE_WEIGHTS } from '../colour/luminance.js'
import { LIT } from '../match/light-change.js'
import { HALF_VALUES } from '../raster/half.js'
import type { Rect } from '../raster/rect.js'
import type { Region } from '../region/region.js'
import type { SeenFrame } from './camera.js'
import type { FrameChange } from './frame-change.js'
import type { Measured } from './measured.js'
import type { Registered } from './register.js'
import { keyOf } from './store.js'

/** A search, as far as its colours go. */
export interface Coloured {
  readonly measured: Measured
  readonly seen: readonly SeenFrame[]
  /** What the frames are kept over, plate pixels. */
  readonly rect: Rect
  readonly region: Region
}

/**
 * Change of each channel over the change of luminance, on the changed cells: sums of light over sums of light, so that
 * dark pixels have no more to say than they shine. Whole-pixel poses do: sums hardly change over a fraction.
 */
export function changeColour(
  { measured, seen, rect, region }: Coloured,
  change: FrameChange,
  at: Registered,
  quiet: readonly Registered[],
  sign: 'darker' | 'brighter',
): [number, number, number] {
  const { grid, light } = measured
  const cells = Uint8Array.from(change.kind, (kind, cell) => {
    const down = change.cells.change[cell] - measured.quiet.change[cell] < 0
    return grid.weight[cell] > 0 && kind === LIT && down === (sign === 'darker') ? 1 : 0
  })
  if (!cells.includes(1) || quiet.length === 0) return [1, 1, 1]
  const colours = new Map(seen.map((f) => [keyOf(f), f.lit!.rgb]))
  const sums = (f: Registered): number[] => {
    const rgb = colours.get(keyOf(f))!
    const { gain } = light.get(keyOf(f))!
    const left = region.window.x - rect.x - Math.round(f.dx)
    const top = region.window.y - rect.y - Math.round(f.dy)
    const out = [0, 0, 0]
    for (let y = 0; y < grid.height; y++) {
      const row = Math.floor(y / grid.size) * grid.columns
      const sy = y + top
      if (sy < 0 || sy >= rect.h) continue
      for (let x = 0; x < grid.width; x++) {
        const sx = x + left
        if (cells[row + Math.floor(x / grid.size)] === 0 || sx < 0 || sx >= rect.w) continue
        const i = (sy * rect.w + sx) * 3
        for (let c = 0; c < 3; c++) {
          const value = HALF_VALUES[rgb[i + c]]
          if (Number.isFinite(value)) out[c] += gain[c] * value
        }
      }
    }
    return out
  }
  const now = sums(at)
  const before = [0, 0, 0]
  for (const q of quiet) for (const [c, v] of sums(q).entries()) before[c] += v / quiet.length
  const luminance = (v: readonly number[]) => LUMINANCE_WEIGHTS.reduce((sum, w, c) => sum + w * v[c], 0)
  const whole = luminance(now) / luminance(before)
  const factor = (c: number) => {
    const value = now[c] / before[c] / whole
    return Number.isFinite(value) ? Number(value.toFixed(4)) : 1
  }
  return [factor(0), factor(1), factor(2)]
}
