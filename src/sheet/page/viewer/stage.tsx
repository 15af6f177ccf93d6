// A candidate's picture in its room: one canvas, drawn pixel by pixel, with the outline and the wipe's handle over it and,
// where wanted, the whole frame under it. The wheel zooms about the pointer, dragging pans.
import { useEffect, useLayoutEffect, useMemo, useRef, useState } from 'preact/hooks'
import { compose, type Samples, type Scene } from './compose.js'
import type { FrameStore } from './frame-store.js'
import { extentOf, type Look, pannedBy, projected } from './look.js'
import { cornerOf, fitting, middleOf, within, zoomedAbout, zoomStep } from './place.js'
import { toneTable } from './tone.js'
import { useRoom } from './use-room.js'
import { targetOf, type ViewerData, wholeFor } from './viewer-data.js'

export interface StageProps {
  readonly look: Look
  readonly setLook: (f: (now: Look) => Look) => void
  readonly data: ViewerData
  readonly store: FrameStore
  /** the candidate shown, and which of its frames */
  readonly way: number
  readonly frame: number
  /** of the room, and of the picture, for who does not see it */
  readonly name: string
  readonly alt: string
  /** told the zoom that fits, screen pixels per picture pixel */
  readonly onFit: (fit: number) => void
  /** the room was pressed or got the focus */
  readonly onTaken?: () => void
}

/** The wheel turns by so much for a step, CSS pixels: a notch of a mouse, a short stroke of two fingers. */
const WHEEL_STEP_PX = 60
/** What a line and a page are in pixels, where a wheel counts in them (UI Events, deltaMode). */
const WHEEL_UNITS = [1, 20, 400] as const

export function Stage(props: StageProps) {
  const { look, setLook, data, store, way, frame, name, alt, onFit, onTaken } = props
  const room = useRef<HTMLElement>(null)
  const sheet = useRef<HTMLDivElement>(null)
  const canvas = useRef<HTMLCanvasElement>(null)
  const seen = useScene(way, frame, store)
  const tone = useMemo(() => toneTable(look.exposure, look.gamma), [look.exposure, look.gamma])
  const { size, ratio } = useRoom(room)
  const { scene } = seen

  useLayoutEffect(() => {
    if (scene && canvas.current) draw(canvas.current, scene, look, tone)
  }, [scene, tone, look.view, look.wipe, look.flipped, look.gain])

  const target = targetOf(data, way, frame)
  const at = data.ways[way].frames[frame][0]
  const extent = extentOf(look, data, at)
  const fit = fitting(extent, size, ratio)
  const scale = (look.zoom || fit) / ratio
  useLayoutEffect(() => onFit(fit), [fit])
  // Where the picture lies is known here alone, and the page's policy allows no style in the markup.
  useLayoutEffect(() => {
    const corner = cornerOf(extent, { centre: look.centre ?? middleOf(extent), scale, room: size, ratio })
    put(sheet.current!, corner.x, corner.y, extent.w * scale, extent.h * scale)
    const { x, y, w, h } = projected(target.rect, data)
    const region = canvas.current!.parentElement!
    put(region, (x - extent.x) * scale, (y - extent.y) * scale, w * scale, h * scale)
    region.style.setProperty('--wipe', `${100 * look.wipe}%`)
    canvas.current!.style.imageRendering = scale * ratio < 1 ? 'auto' : 'pixelated'
  })

  const zoomAt = (by: 1 | -1, event: MouseEvent) =>
    setLook((now) => {
      const zoom = zoomStep(now.zoom, fit, by)
      if (zoom === 0) return { ...now, zoom, centre: null }
      const { left, top } = room.current!.getBoundingClientRect()
      const pointer = { x: event.clientX - left - size.w / 2, y: event.clientY - top - size.h / 2 }
      const scales = { from: (now.zoom || fit) / ratio, to: zoom / ratio }
      const centre = zoomedAbout(pointer, now.centre ?? middleOf(extent), scales)
      return { ...now, zoom, centre: within(extent, centre) }
    })
  const turned = useRef(0)
  const onWheel = (event: WheelEvent) => {
    event.preventDefault()
    turned.current += event.deltaY * WHEEL_UNITS[event.deltaMode]
    if (Math.abs(turned.current) < WHEEL_STEP_PX) return
    zoomAt(turned.current < 0 ? 1 : -1, event)
    turned.current = 0
  }

  return (
    <section
      class="stage"
      ref={room}
      // biome-ignore lint/a11y/noNoninteractiveTabindex: the picture takes the focus, so that keys steer it
      tabIndex={0}
      aria-label={name}
      onFocus={onTaken}
      onWheel={onWheel}
      {...dragging(look, canvas, {
        pan: (x, y) => setLook((now) => pannedBy(now, data, { x: -x / scale, y: -y / scale })),
        wipe: (wipe) => setLook((now) => ({ ...now, wipe })),
      })}
    >
      <div class={`stage-sheet ${look.view === 'difference' ? 'stage-grey' : ''}`} ref={sheet}>
        {look.whole ? <Whole data={data} store={store} at={at} tone={tone} /> : null}
        <div class={`stage-region ${look.view === 'wipe' ? 'stage-wipe' : ''}`}>
          {/* Another candidate's picture never stands under this one's name. */}
          <canvas class={seen.way === way ? '' : 'stage-awaited'} ref={canvas} role="img" aria-label={alt} />
          {look.outlined ? (
            <svg
              class="stage-outline"
              viewBox={`0 0 ${target.rect[2]} ${target.rect[3]}`}
              preserveAspectRatio="none"
              aria-hidden="true"
            >
              <path class="outline-under" d={data.masks[target.mask].outline} />
              <path class="outline" d={data.masks[target.mask].outline} />
            </svg>
          ) : null}
        </div>
      </div>
      {seen.fault ? (
        <p class="stage-fault" role="status">
          The picture of frame {target.frame} can't be had.
        </p>
      ) : null}
    </section>
  )
}

/** The frame round the region, as shot, or of the nearest frame that there is a whole picture of. */
function Whole(props: { data: ViewerData; store: FrameStore; at: number; tone: Uint8ClampedArray }) {
  const { data, store, at, tone } = props
  const canvas = useRef<HTMLCanvasElement>(null)
  const [picture, setPicture] = useState<Samples | null>(null)
  const shown = wholeFor(data, at)
  const index = shown?.index
  useEffect(() => {
    if (index === undefined) return
    let current = true
    store.whole(index).then(
      (found) => {
        if (current) setPicture(found)
      },
      // Round the region there is then what was there before.
      () => {},
    )
    return () => {
      current = false
    }
  }, [index, store])
  useLayoutEffect(() => {
    if (!picture || !canvas.current) return
    const { context, image } = cleared(canvas.current, picture.w, picture.h)
    for (let i = 0; i < image.data.length; i += 4) {
      for (let c = 0; c < 3; c++) image.data[i + c] = tone[picture.data[i + c]]
      image.data[i + 3] = 255
    }
    context.putImageData(image, 0, 0)
  }, [picture, tone])
  return (
    <canvas
      class="stage-whole"
      ref={canvas}
      role="img"
      aria-label={`The frame round the region, ${shown?.frame}`}
    />
  )
}

interface Seen {
  readonly scene: Scene | null
  /** the candidate that the scene is of */
  readonly way: number | null
  /** the frame's pictures could not be had */
  readonly fault: boolean
}

/** The frame's pictures, at once where they are decoded; else the candidate's last ones stay up meanwhile. */
function useScene(way: number, frame: number, store: FrameStore): Seen {
  const [seen, setSeen] = useState<Seen>({ scene: null, way: null, fault: false })
  const ready = useMemo(() => store.ready(way, frame), [way, frame, store])
  useEffect(() => {
    let current = true
    store.scene(way, frame).then(
      (scene) => {
        if (current) setSeen({ scene, way, fault: false })
      },
      () => {
        if (current) setSeen({ scene: null, way: null, fault: true })
      },
    )
    return () => {
      current = false
    }
  }, [way, frame, store])
  return ready ? { scene: ready, way, fault: false } : seen
}

function draw(canvas: HTMLCanvasElement, scene: Scene, look: Look, tone: Uint8ClampedArray): void {
  const { context, image } = cleared(canvas, scene.target.w, scene.target.h)
  const { view, wipe, flipped, gain } = look
  compose(scene, { view, wipe, flipped, tone, differenceGain: gain }, image.data)
  context.putImageData(image, 0, 0)
}

function cleared(canvas: HTMLCanvasElement, w: number, h: number) {
  if (canvas.width !== w || canvas.height !== h) {
    canvas.width = w
    canvas.height = h
  }
  // Every frame is computed and put; a canvas on the graphics card would only copy it about.
  const context = canvas.getContext('2d', { willReadFrequently: true })!
  return { context, image: context.createImageData(w, h) }
}

function put({ style }: HTMLElement, left: number, top: number, width: number, height: number): void {
  style.left = `${left}px`
  style.top = `${top}px`
  style.width = `${width}px`
  style.height = `${height}px`
}

/** In a wipe the pointer moves the edge while it is over the region's picture; else, and with Shift, it pushes all about. */
function dragging(
  look: Look,
  canvas: { readonly current: HTMLCanvasElement | null },
  to: { pan: (x: number, y: number) => void; wipe: (share: number) => void },
) {
  const drag = useRef<{ x: number; y: number; wipes: boolean } | null>(null)
  const share = ({ clientX }: PointerEvent) => {
    const { left, width } = canvas.current!.getBoundingClientRect()
    return Math.min(1, Math.max(0, (clientX - left) / width))
  }
  const end = () => {
    drag.current = null
  }
  return {
    onPointerDown: (event: PointerEvent) => {
      if (event.button > 1) return
      ;(event.currentTarget as HTMLElement).setPointerCapture(event.pointerId)
      const over = event.target instanceof Node && canvas.current!.parentElement!.contains(event.target)
      const wipes = look.view === 'wipe' && over && event.button === 0 && !event.shiftKey
      drag.current = { x: event.clientX, y: event.clientY, wipes }
      if (wipes) to.wipe(share(event))
    },
    onPointerMove: (event: PointerEvent) => {
      const from = drag.current
      if (!from || event.buttons === 0) return
      drag.current = { ...from, x: event.clientX, y: event.clientY }
      if (from.wipes) to.wipe(share(event))
      else to.pan(event.clientX - from.x, event.clientY - from.y)
    },
    onPointerUp: end,
    onPointerCancel: end,
  }
}
