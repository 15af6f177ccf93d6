// How large an element is, for as long as it is mounted.
import { useLayoutEffect } from 'preact/hooks'
import type { Size } from './place.js'

/** @param told of its content's size in CSS pixels, as soon as it is laid out and whenever it changes */
export function useSize(element: () => Element, told: (size: Size) => void): void {
  useLayoutEffect(() => {
    const watch = new ResizeObserver(([{ contentRect }]) =>
      told({ w: contentRect.width, h: contentRect.height }),
    )
    watch.observe(element())
    return () => watch.disconnect()
  }, [])
}
