// How much room an element has on the screen.
import type { RefObject } from 'preact'
import { useLayoutEffect, useState } from 'preact/hooks'
import type { Size } from './place.js'
import { useSize } from './use-size.js'

/** Its size in CSS pixels, and how many screen pixels one of them is, as long as it is mounted. */
export function useRoom(room: RefObject<HTMLElement | null>): { size: Size; ratio: number } {
  const [size, setSize] = useState<Size>({ w: 1, h: 1 })
  useLayoutEffect(() => {
    const { clientWidth: w, clientHeight: h } = room.current!
    setSize(atLeastOne({ w, h }))
  }, [])
  useSize(
    () => room.current!,
    (now) => setSize(atLeastOne(now)),
  )
  return { size, ratio: devicePixelRatio }
}

function atLeastOne({ w, h }: Size): Size {
  return { w: Math.max(1, w), h: Math.max(1, h) }
}
