// Linear light per tile and channel: what tells a change's colour, and what lifting it would multiply with.
import { HALF_VALUES } from '../../raster/half.js'
import type { Rect } from '../../raster/rect.js'
import type { Region } from '../../region/region.js'
import { keyOf } from '../../shot/frame-key.js'
import type { TrackedFrame } from '../../track/frame-tracker.js'
import type { Registered } from '../register.js'
import type { Measured } from './measured.js'

/** A search, as far as its colours go. */
export interface Coloured {
  readonly measured: Measured
  readonly seen: readonly TrackedFrame[]
  /** What the frames are kept over, plate pixels. */
  readonly rect: Rect
  readonly region: Region
}

/**
 * Sums of R, G and B over each tile, three in a row, in the common light. Whole-pixel poses do: sums hardly change over a
 * fraction. Tiles beyond the kept rectangle have what there is of them.
 */
export function tileExposure({ measured, seen, rect, region }: Coloured, f: Registered): Float64Array {
  const { grid, light } = measured
  const key = keyOf(f)
  const { rgb } = seen.find((s) => keyOf(s) === key)!.lit!
  const { gain } = light.get(key)!
  const left = region.window.x - rect.x - Math.round(f.dx)
  const top = region.window.y - rect.y - Math.round(f.dy)
  const out = new Float64Array(3 * grid.weight.length)
  for (let y = 0; y < grid.height; y++) {
    const row = Math.floor(y / grid.size) * grid.columns
    const sy = y + top
    if (sy < 0 || sy >= rect.h) continue
    for (let x = 0; x < grid.width; x++) {
      const sx = x + left
      if (sx < 0 || sx >= rect.w) continue
      const i = (sy * rect.w + sx) * 3
      const to = 3 * (row + Math.floor(x / grid.size))
      for (let c = 0; c < 3; c++) {
        const value = HALF_VALUES[rgb[i + c]]
        if (Number.isFinite(value)) out[to + c] += gain[c] * value
      }
    }
  }
  return out
}

/** The mean of several frames' tiles. */
export function meanTileExposure(job: Coloured, frames: readonly Registered[]): Float64Array {
  const out = new Float64Array(3 * job.measured.grid.weight.length)
  for (const f of frames) for (const [i, v] of tileExposure(job, f).entries()) out[i] += v / frames.length
  return out
}
