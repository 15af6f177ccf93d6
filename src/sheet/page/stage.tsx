// The picture of looking closer: one canvas, drawn pixel by pixel, with the outline and the wipe's handle over it.
import type { RefObject } from 'preact'
import { useEffect, useLayoutEffect, useMemo, useRef, useState } from 'preact/hooks'
import type { PageData } from '../data/page-data.js'
import { compose, type Scene } from './compose.js'
import type { FrameStore } from './data.js'
import type { Look } from './look.js'
import { toneTable } from './tone.js'

interface StageProps {
  look: Look
  data: PageData
  store: FrameStore
  alt: string
  onWipe: (share: number) => void
}

export function Stage({ look, data, store, alt, onWipe }: StageProps) {
  const room = useRef<HTMLDivElement>(null)
  const canvas = useRef<HTMLCanvasElement>(null)
  const { scene, way } = useScene(look, store)
  const tone = useMemo(() => toneTable(look.exposure, look.gamma), [look.exposure, look.gamma])
  const size = useRoom(room)

  useLayoutEffect(() => {
    if (scene && canvas.current) draw(canvas.current, scene, look, tone)
  }, [scene, tone, look.view, look.wipe, look.flipped, look.gain])

  const [w, h] = scene ? [scene.target.w, scene.target.h] : [1, 1]
  const scale = shownScale(look.zoom, size, w, h)
  // Where the picture lies in its room decides how wide it is, and the policy allows no style in the markup.
  useLayoutEffect(() => {
    const sheet = canvas.current?.parentElement
    if (!sheet) return
    sheet.style.width = `${w * scale}px`
    sheet.style.height = `${h * scale}px`
    sheet.style.setProperty('--wipe', `${100 * look.wipe}%`)
    canvas.current!.style.imageRendering = scale * devicePixelRatio < 1 ? 'auto' : 'pixelated'
  })

  const target = look.way === null ? undefined : data.targets[data.ways[look.way].frames[look.frame]?.[0]]
  return (
    // biome-ignore lint/a11y/noNoninteractiveTabindex: a picture larger than its room is scrolled by keyboard too
    <section class="stage" ref={room} tabIndex={0} aria-label="Picture">
      <div
        class={`stage-sheet ${look.view === 'wipe' ? 'stage-wipe' : ''}`}
        {...dragging(look, room, onWipe)}
      >
        {/* Another candidate's picture never stands under this one's name. */}
        <canvas class={way === look.way ? '' : 'stage-awaited'} ref={canvas} role="img" aria-label={alt} />
        {look.outlined && target ? (
          <svg class="stage-outline" viewBox={`0 0 ${target.rect[2]} ${target.rect[3]}`} aria-hidden="true">
            <path class="outline-under" d={data.masks[target.mask].outline} />
            <path class="outline" d={data.masks[target.mask].outline} />
          </svg>
        ) : null}
      </div>
    </section>
  )
}

interface Seen {
  readonly scene: Scene | null
  /** the candidate that the scene is of */
  readonly way: number | null
}

/** The frame's pictures, at once where they are decoded; else the candidate's last ones stay up meanwhile. */
function useScene({ way, frame }: Look, store: FrameStore): Seen {
  const [seen, setSeen] = useState<Seen>({ scene: null, way: null })
  const ready = useMemo(() => (way === null ? null : store.ready(way, frame)), [way, frame])
  useEffect(() => {
    if (way === null) return
    let current = true
    store.scene(way, frame).then((scene) => {
      if (current) setSeen({ scene, way })
    })
    return () => {
      current = false
    }
  }, [way, frame])
  return ready ? { scene: ready, way } : seen
}

function useRoom(room: RefObject<HTMLDivElement | null>): { w: number; h: number } {
  const [size, setSize] = useState({ w: 1, h: 1 })
  useLayoutEffect(() => {
    const watch = new ResizeObserver(([entry]) => {
      setSize({ w: entry.contentRect.width, h: entry.contentRect.height })
    })
    watch.observe(room.current!)
    return () => watch.disconnect()
  }, [])
  return size
}

/** CSS pixels per picture pixel. A fit that enlarges does so by whole screen pixels, so that all are alike. */
function shownScale(zoom: number, room: { w: number; h: number }, w: number, h: number): number {
  if (zoom > 0) return zoom / devicePixelRatio
  const fit = Math.min(room.w / w, room.h / h) * devicePixelRatio
  return (fit >= 1 ? Math.floor(fit) : fit) / devicePixelRatio
}

function draw(canvas: HTMLCanvasElement, scene: Scene, look: Look, tone: Uint8ClampedArray): void {
  const { w, h } = scene.target
  if (canvas.width !== w || canvas.height !== h) {
    canvas.width = w
    canvas.height = h
  }
  // Every frame is computed and put; a canvas on the graphics card would only copy it about.
  const context = canvas.getContext('2d', { willReadFrequently: true })!
  const image = context.createImageData(w, h)
  const { view, wipe, flipped, gain } = look
  compose(scene, { view, wipe, flipped, tone, differenceGain: gain }, image.data)
  context.putImageData(image, 0, 0)
}

/** In a wipe the pointer moves the edge; else it pushes the picture about. */
function dragging(look: Look, room: RefObject<HTMLDivElement | null>, onWipe: (share: number) => void) {
  const wipeTo = (event: PointerEvent) => {
    const { left, width } = (event.currentTarget as HTMLElement).getBoundingClientRect()
    onWipe(Math.min(1, Math.max(0, (event.clientX - left) / width)))
  }
  return {
    onPointerDown: (event: PointerEvent) => {
      ;(event.currentTarget as HTMLElement).setPointerCapture(event.pointerId)
      if (look.view === 'wipe') wipeTo(event)
    },
    onPointerMove: (event: PointerEvent) => {
      if (event.buttons === 0) return
      if (look.view === 'wipe') wipeTo(event)
      else room.current?.scrollBy(-event.movementX, -event.movementY)
    },
  }
}
