// Light over time of the surface that a borrow hunts on: a click on a dip or gleam says like what, a pull from there where its peak
// is wanted.
import { computed, signal, useSignalEffect } from '@preact/signals'
import { useRef } from 'preact/hooks'
import { useSize } from '../../sheet/page/viewer/use-size.js'
import { extremeNear } from './extreme.js'
import { CURVE_HEIGHT, drawCurve, inStops, stopsText } from './light-draw.js'
import { ask, frame, plate, state, strips, surface } from './state.js'
import { frameWidth, nearestFrame, numberAt, type StripScale } from './strip-scale.js'
import { unit } from './unit.js'

const width = signal(1)
/** While it is pulled. */
const pulled = signal<{ readonly from: number; readonly like: number; readonly peak: number } | null>(null)
/** Stops by frame: of the surface, or of the whole frame while none is drawn. */
const lights = computed(() => {
  if (surface.value?.of) return inStops(surface.value.lights)
  return inStops(new Map([...(strips.value.get(0) ?? [])].map(([at, { light }]) => [at, light])))
})

/** Frames whose light is not known yet; those that can't be read have none. */
const awaited = computed(() => {
  const unread = [...(strips.value.get(0) ?? [])].filter(([, { light }]) => light === null).map(([at]) => at)
  const known = new Set([...lights.value.keys(), ...unread])
  return (plate.value?.frames ?? []).filter((each) => !known.has(each)).length
})

const WHOSE = { lookIn: 'the surface to hunt on', region: 'the region', none: 'the whole frame' } as const

export function LightCurve() {
  const canvas = useRef<HTMLCanvasElement>(null)
  useSize(
    () => canvas.current!.parentElement!,
    ({ w }) => {
      width.value = Math.max(1, w)
    },
  )
  useSignalEffect(() => {
    const scale = scaleNow()
    const sheet = canvas.current
    if (!sheet || !scale || !state.value) return
    const { like, peak } = pulled.value ?? state.value.asked
    const dense = unit() * devicePixelRatio
    const wide = scale.width / unit()
    sheet.width = Math.round(wide * dense)
    sheet.height = Math.round(CURVE_HEIGHT * dense)
    const context = sheet.getContext('2d')!
    context.scale(dense, dense)
    const { gaps } = plate.value!
    const drawn = { scale: { ...scale, width: wide }, gaps, lights: lights.value, like, peak }
    drawCurve(context, { ...drawn, frame: frame.value })
  })
  const at = (event: PointerEvent): number => {
    const { left } = (event.currentTarget as HTMLElement).getBoundingClientRect()
    return nearestFrame(plate.value!.frames, numberAt(scaleNow()!, event.clientX - left))
  }
  const whose = WHOSE[surface.value?.of ?? 'none']
  const here = lights.value.get(pulled.value?.like ?? frame.value) ?? null
  return (
    <figure class="light-curve">
      <figcaption class="line">
        <span>
          Light of {whose}
          {awaited.value === 0 ? null : `, ${awaited.value} of ${plate.value!.frames.length} frames to come`}
        </span>
        <output>
          {pulled.value?.like ?? frame.value}: {here === null ? 'not known' : stopsText(here)}
        </output>
      </figcaption>
      <div
        onPointerDown={(event) => {
          ;(event.currentTarget as HTMLElement).setPointerCapture(event.pointerId)
          const from = at(event)
          pulled.value = { from, like: extremeNear(lights.value, from), peak: from }
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
        <canvas ref={canvas} role="img" aria-label={`Light of ${whose} over time`} />
      </div>
      {surface.value?.message ? <p class="trouble">{surface.value.message}</p> : null}
      <p class="note">
        In stops from its usual light. Click a dip or a gleam to have one like it; pull from there to where
        its peak is wanted.
      </p>
    </figure>
  )
}

function scaleNow(): StripScale | null {
  const frames = plate.value?.frames
  return frames ? { first: frames[0], last: frames[frames.length - 1], width: width.value } : null
}
