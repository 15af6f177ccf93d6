// The large picture: one canvas in the screen's own pixels, and over it what is drawn. Wheel zooms, the hand pushes.
import { useSignalEffect } from '@preact/signals'
import { useRef } from 'preact/hooks'
import { useSize } from '../../sheet/page/viewer/use-size.js'
import type { Point } from '../shot-state.js'
import { draft, hand, tool } from './areas.js'
import { closePolygon, pointerDown, pointerMove, pointerUp } from './gestures.js'
import { arrivals, display, freeView, pictures, plateSize, room, tone, view } from './looking.js'
import { Overlay } from './overlay.js'
import { paint, pictureFault, useWanted } from './painting.js'
import { frame, playing, step } from './state.js'
import { unit } from './unit.js'
import { pushed, toPlate, zoomedAt } from './view.js'

/** A handle is met within so many CSS pixels. */
const REACH_PX = 9
/** A notch of the wheel. */
const ZOOM_STEP = 1.2

export function Picture() {
  const box = useRef<HTMLDivElement>(null)
  const canvas = useRef<HTMLCanvasElement>(null)
  useSize(
    () => box.current!,
    (size) => {
      room.value = size
    },
  )
  useWanted()
  useSignalEffect(() => {
    // Read, so that each of them draws anew.
    void [arrivals.value, frame.value, view.value, display.value, tone.value, room.value]
    if (canvas.current) paint(canvas.current)
  })
  const drawing = step.value === 'region' && !hand.value
  return (
    <div
      class={`picture-room ${drawing ? `drawing tool-${tool.value}` : 'pushing'}`}
      ref={box}
      {...pointers(box, drawing)}
    >
      <canvas ref={canvas} role="img" aria-label={`Frame ${frame.value}`} />
      <Overlay />
      <Fault />
    </div>
  )
}

function Fault() {
  void arrivals.value
  const message = pictureFault()
  return message ? (
    <p class="picture-fault" role="alert">
      {message}{' '}
      <button type="button" onClick={() => pictures.forgetFaults()}>
        Try again
      </button>
    </p>
  ) : null
}

/** Whether the pointer pushes the plate: outside the component, which is drawn anew meanwhile. */
let pushing = false

function pointers(box: { current: HTMLDivElement | null }, drawing: boolean) {
  const inRoom = (event: MouseEvent): Point => {
    const { left, top } = box.current!.getBoundingClientRect()
    return [event.clientX - left, event.clientY - top]
  }
  const onPlate = (event: MouseEvent) => toPlate(view.value, plateSize.value.aspect, inRoom(event))
  return {
    onPointerDown: (event: PointerEvent) => {
      if (event.button > 1 || (event.target as HTMLElement).closest('button')) return
      event.preventDefault()
      // What was being typed is done; keys are meant for the picture.
      const focused = document.activeElement
      if (focused instanceof HTMLElement || focused instanceof SVGElement) focused.blur()
      box.current!.setPointerCapture(event.pointerId)
      playing.value = false
      pushing = event.button === 1 || !drawing
      if (!pushing) pointerDown(onPlate(event), (REACH_PX * unit()) / view.value.scale)
    },
    onPointerMove: (event: PointerEvent) => {
      if (event.buttons === 0 && draft.value?.kind !== 'polygon') return
      if (event.buttons !== 0 && pushing) {
        freeView.value = pushed(view.value, room.value, plateSize.value, event.movementX, event.movementY)
      } else pointerMove(onPlate(event))
    },
    onPointerUp: () => {
      if (!pushing && pointerUp())
        requestAnimationFrame(() => box.current?.querySelector<SVGElement>('.handle.chosen')?.focus())
      pushing = false
    },
    onDblClick: () => {
      closePolygon()
    },
    onWheel: (event: WheelEvent) => {
      event.preventDefault()
      freeView.value = zoomedAt(view.value, ZOOM_STEP ** -Math.sign(event.deltaY), inRoom(event))
    },
  }
}
