// Pictures as they are projected: a pixel of the plate may be wider than it is high, and all that is drawn in plate pixels with it.
import { type ComponentChildren, createContext } from 'preact'
import { useContext } from 'preact/hooks'
import type { Rect } from '../../raster/rect.js'

/** Width of the plate's pixels over their height. */
export const PixelAspect = createContext(1)

/** A size in plate pixels, in units that are as wide as high. */
export function useProjected({ w, h }: Pick<Rect, 'w' | 'h'>): Pick<Rect, 'w' | 'h'> {
  return { w: Number((w * useContext(PixelAspect)).toFixed(3)), h }
}

/** What is drawn in plate pixels, within an SVG whose view box has projected units. */
export function InPlatePixels({ children }: { children: ComponentChildren }) {
  const aspect = useContext(PixelAspect)
  return aspect === 1 ? children : <g transform={`scale(${aspect} 1)`}>{children}</g>
}
