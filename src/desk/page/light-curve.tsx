// The plate's light as a curve: a click on a dip or gleam says like what, a pull from there where its peak is wanted.
import { signal, useSignalEffect } from '@preact/signals'
import { useLayoutEffect, useRef } from 'preact/hooks'
import type { PlateAbout, StripFrame } from '../messages.js'
import { ask, frame, plate, state, strips } from './state.js'
import { frameWidth, isBroken, nearestFrame, numberAt, type StripScale, xOf } from './strip-scale.js'
import { unit } from './unit.js'

const HEIGHT = 96
const width = signal(1)
/** While it is pulled. */
const pulled = signal<{ readonly from: number; readonly like: number; readonly peak: number } | null>(null)
/** A click looks for the dip or gleam so many frames round it. */
const ROUND = 6

/**
 * The frame near `at` whose light stands out most from a straight line between the ends of what is looked at.
 *
 * @param known light by frame, log2
 */
export function extremeNear(known: ReadonlyMap<number, StripFrame>, at: number, round = ROUND): number {
  const near: [frame: number, light: number][] = []
  for (let f = at - round; f <= at + round; f++) {
    const light = known.get(f)?.light
    if (light !== undefined && light !== null) near.push([f, light])
  }
  if (near.length < 3) return at
  const [[f0, l0], [f1, l1]] = [near[0], near[near.length - 1]]
  let best = at
  let most = 0
  for (const [f, light] of near) {
    const off = Math.abs(light - (l0 + ((l1 - l0) * (f - f0)) / (f1 - f0)))
    if (off > most) {
      most = off
      best = f
    }
  }
  return best
}

export function LightCurve() {
  const canvas = useRef<HTMLCanvasElement>(null)
  useLayoutEffect(() => {
    const watch = new ResizeObserver(([{ contentRect }]) => {
      width.value = Math.max(1, contentRect.width)
    })
    watch.observe(canvas.current!.parentElement!)
    return () => watch.disconnect()
  }, [])
  useSignalEffect(() => {
    const scale = scaleNow()
    if (!canvas.current || !scale || !state.value) return
    const { like, peak } = pulled.value ?? state.value.asked
    const drawn = { ...scale, width: scale.width / unit() }
    draw(canvas.current, drawn, strips.value.get(0) ?? new Map(), plate.value!.gaps, like, peak, frame.value)
  })
  const at = (event: PointerEvent): number => {
    const { left } = (event.currentTarget as HTMLElement).getBoundingClientRect()
    return nearestFrame(plate.value!.frames, numberAt(scaleNow()!, event.clientX - left))
  }
  return (
    <figure class="light-curve">
      <div
        onPointerDown={(event) => {
          ;(event.currentTarget as HTMLElement).setPointerCapture(event.pointerId)
          const from = at(event)
          const like = extremeNear(strips.value.get(0) ?? new Map(), from)
          pulled.value = { from, like, peak: from }
        }}
        onPointerMove={(event) => {
          if (pulled.value) pulled.value = { ...pulled.value, peak: at(event) }
        }}
        onPointerUp={() => {
          const now = pulled.value
          pulled.value = null
          if (!now) return
          // A click alone says nothing of the peak.
          const wide = Math.abs(now.peak - now.from) * frameWidth(scaleNow()!) > 4
          ask(wide ? { like: now.like, peak: now.peak } : { like: now.like }, null, 'range')
        }}
      >
        <canvas ref={canvas} role="img" aria-label="Light of the whole frame over time" />
      </div>
      <figcaption class="note">
        Click a dip or a gleam to have one like it; pull from there to where its peak is wanted.
      </figcaption>
    </figure>
  )
}

function scaleNow(): StripScale | null {
  const frames = plate.value?.frames
  return frames ? { first: frames[0], last: frames[frames.length - 1], width: width.value } : null
}

function draw(
  canvas: HTMLCanvasElement,
  scale: StripScale,
  known: ReadonlyMap<number, StripFrame>,
  gaps: PlateAbout['gaps'],
  like: number | null,
  peak: number | null,
  now: number,
): void {
  const dense = unit() * devicePixelRatio
  canvas.width = Math.round(scale.width * dense)
  canvas.height = Math.round(HEIGHT * dense)
  const context = canvas.getContext('2d')!
  context.scale(dense, dense)
  context.fillStyle = '#242424'
  context.fillRect(0, 0, scale.width, HEIGHT)
  const lights = [...known.values()].filter((f) => f.light !== null).sort((a, b) => a.frame - b.frame)
  if (lights.length === 0) return
  const low = Math.min(...lights.map((f) => f.light!))
  const span = Math.max(0.05, Math.max(...lights.map((f) => f.light!)) - low)
  const place = (f: StripFrame): [number, number] => [
    xOf(scale, f.frame) + frameWidth(scale) / 2,
    HEIGHT - 8 - ((f.light! - low) / span) * (HEIGHT - 28),
  ]
  context.strokeStyle = '#d8d8d8'
  context.lineWidth = 1.5
  context.beginPath()
  for (const [i, f] of lights.entries()) {
    const [x, y] = place(f)
    if (i > 0 && !isBroken(gaps, lights[i - 1].frame, f.frame)) context.lineTo(x, y)
    else context.moveTo(x, y)
  }
  context.stroke()
  mark(context, scale, now, '')
  if (like !== null) mark(context, scale, like, 'like')
  if (peak !== null) mark(context, scale, peak, 'peak')
}

function mark(context: CanvasRenderingContext2D, scale: StripScale, frame: number, name: string): void {
  const x = xOf(scale, frame) + frameWidth(scale) / 2
  context.strokeStyle = name === '' ? '#8c8c8c' : '#fff'
  context.lineWidth = 1
  context.setLineDash(name === 'peak' ? [4, 3] : [])
  context.beginPath()
  context.moveTo(x, name === '' ? 0 : 14)
  context.lineTo(x, HEIGHT)
  context.stroke()
  context.setLineDash([])
  context.fillStyle = '#fff'
  context.font = `12px ${getComputedStyle(document.body).fontFamily}`
  const wide = context.measureText(name).width
  context.fillText(name, Math.min(scale.width - wide, Math.max(0, x - wide / 2)), 11)
}
