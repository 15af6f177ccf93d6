// The strip under the picture: the whole plate at once, dragged to scrub, its upper edge to set the target range.
import { computed, signal, useSignalEffect } from '@preact/signals'
import { useLayoutEffect, useRef } from 'preact/hooks'
import { useSize } from '../../sheet/page/viewer/use-size.js'
import type { PlateAbout, StripFrame } from '../messages.js'
import { area } from './areas.js'
import { keyedFrames } from './handles.js'
import { candidate, frame, goTo, plate, playing, stepFrames, strips } from './state.js'
import { drawStrip, LANES, STRIP_HEIGHT, type StripPicture } from './strip-draw.js'
import { LaneNames, Legend } from './strip-legend.js'
import { frameWidth, nearestFrame, numberAt, type StripScale, steppedFrame, xOf } from './strip-scale.js'
import { axesOf, frameInWords, stripInWords } from './strip-values.js'
import { ends, rangeDraft, setEnd, setRange, targets } from './target-range.js'
import { unit } from './unit.js'

const width = signal(1)
const known = computed((): ReadonlyMap<number, StripFrame> => strips.value.get(0) ?? new Map())
const axes = computed(() => axesOf(known.value))
/** Apart from the component, which is drawn anew at each frame shown. */
const words = computed(() => (plate.value ? stripInWords(plate.value, known.value) : ''))
/** An end is taken hold of within so many CSS pixels. */
const END_REACH_PX = 12

export function Strip() {
  const canvas = useRef<HTMLCanvasElement>(null)
  useSize(
    () => canvas.current!.parentElement!,
    ({ w }) => {
      width.value = Math.max(1, w)
    },
  )
  useSignalEffect(() => {
    const about = plate.value
    const sheet = canvas.current
    if (!about || !sheet) return
    sheet.width = Math.round(width.value * devicePixelRatio)
    const larger = unit()
    sheet.height = Math.round(STRIP_HEIGHT * larger * devicePixelRatio)
    const context = sheet.getContext('2d')!
    context.scale(larger * devicePixelRatio, larger * devicePixelRatio)
    drawStrip(context, {
      ...pictureOf(about),
      scale: { ...scaleOf(about), width: width.value / larger },
    })
  })
  const about = plate.value
  if (!about) return null
  const { frames } = about
  return (
    <div class="strip-room">
      <LaneNames axes={axes.value} />
      <div class="strip-track">
        <div
          class="strip"
          role="slider"
          tabIndex={0}
          aria-label="Frame"
          aria-valuemin={frames[0]}
          aria-valuemax={frames[frames.length - 1]}
          aria-valuenow={frame.value}
          aria-valuetext={`${frame.value}: ${frameInWords(known.value, axes.value, frame.value)}`}
          aria-describedby="strip-summary"
          {...dragging(about)}
        >
          <canvas ref={canvas} />
        </div>
        <End which="first" about={about} />
        <End which="last" about={about} />
      </div>
      <Legend picture={pictureOf(about)} frames={frames} />
      <p class="unseen" id="strip-summary">
        {words.value}
      </p>
    </div>
  )
}

function scaleOf({ frames }: PlateAbout): StripScale {
  return { first: frames[0], last: frames[frames.length - 1], width: width.value }
}

/** All that is painted and named but where it stands. */
function pictureOf({ gaps }: PlateAbout): Omit<StripPicture, 'scale'> {
  return {
    gaps,
    known: known.value,
    axes: axes.value,
    targets: targets.value,
    keyed: keyedFrames(area.value.shapes),
    donors: (candidate.value?.frames ?? []).filter((f) => f.plate === 0).map((f) => f.donor),
    frame: frame.value,
  }
}

/** What the pointer drags: outside the component, which is drawn anew meanwhile. */
let what: 'scrub' | { readonly from: number } | null = null

function dragging(about: PlateAbout) {
  const scale = scaleOf(about)
  const at = (event: PointerEvent) => {
    const { left } = (event.currentTarget as HTMLElement).getBoundingClientRect()
    return nearestFrame(about.frames, numberAt(scale, event.clientX - left))
  }
  return {
    onPointerDown: (event: PointerEvent) => {
      if (event.button !== 0) return
      const strip = event.currentTarget as HTMLElement
      strip.setPointerCapture(event.pointerId)
      playing.value = false
      const { top, left } = strip.getBoundingClientRect()
      if (event.clientY - top > LANES.range * unit() && !event.shiftKey) {
        what = 'scrub'
        goTo(at(event))
        return
      }
      // Near an end the other one stays; anywhere else a new range begins.
      what = { from: otherEnd(scale, event.clientX - left) ?? at(event) }
      rangeDraft.value = [what.from, at(event)]
    },
    onPointerMove: (event: PointerEvent) => {
      if (what === 'scrub') goTo(at(event))
      else if (what) {
        rangeDraft.value = [what.from, at(event)]
        goTo(at(event))
      }
    },
    onPointerUp: (event: PointerEvent) => {
      if (what && what !== 'scrub') {
        setRange(what.from, at(event))
        rangeDraft.value = null
      }
      what = null
    },
    onKeyDown: (event: KeyboardEvent) => {
      if (event.key !== 'PageUp' && event.key !== 'PageDown') return
      event.preventDefault()
      stepFrames(event.key === 'PageUp' ? 10 : -10)
    },
  }
}

function otherEnd(scale: StripScale, x: number): number | null {
  if (!ends.value) return null
  const [first, last] = ends.value
  const away = [Math.abs(x - xOf(scale, first)), Math.abs(x - xOf(scale, last + 1))]
  if (Math.min(...away) > END_REACH_PX * unit()) return null
  return away[0] < away[1] ? last : first
}

/** An end of the range: seen at the upper edge, moved by the arrow keys. */
function End({ which, about }: { which: 'first' | 'last'; about: PlateAbout }) {
  const both = ends.value
  const mark = useRef<HTMLDivElement>(null)
  const at = both?.[which === 'first' ? 0 : 1]
  const scale = scaleOf(about)
  useLayoutEffect(() => {
    if (!mark.current || at === undefined) return
    const edge = which === 'first' ? xOf(scale, at) : xOf(scale, at) + frameWidth(scale)
    mark.current.style.left = `${edge}px`
  })
  if (at === undefined) return null
  return (
    <div
      ref={mark}
      class={`strip-end strip-${which}`}
      role="slider"
      tabIndex={0}
      aria-label={which === 'first' ? 'First target frame' : 'Last target frame'}
      aria-valuemin={about.frames[0]}
      aria-valuemax={about.frames[about.frames.length - 1]}
      aria-valuenow={at}
      onKeyDown={(event) => {
        const by = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1 }[event.key]
        if (by === undefined) return
        event.preventDefault()
        event.stopPropagation()
        const next = steppedFrame(about.frames, at, by * (event.shiftKey ? 10 : 1))
        setEnd(which, next, `end ${which}`)
        goTo(next)
      }}
    />
  )
}
