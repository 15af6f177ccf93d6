// What is drawn of the pictures that have come: whole frames, the finer rectangle where one looks closer, the patch.
import { useSignalEffect } from '@preact/signals'
import { useEffect, useRef } from 'preact/hooks'
import { frameAddress } from './api.js'
import {
  type Display,
  display,
  donor,
  pictures,
  pictureWidth,
  plateSize,
  preview,
  room,
  tone,
  view,
  wholeFrame,
  widthFor,
} from './looking.js'
import { frame, plate, playing, shotName } from './state.js'
import { steppedFrame } from './strip-scale.js'
import { seen, toRoom, type View } from './view.js'

/** Frames that are fetched before they are asked for, ahead and behind. */
const AHEAD = 24
const BEHIND = 6
/** While the view still moves no finer rectangle is asked for, ms. */
const STILL_MS = 180

/** The frame that stands in the picture: the last whole one that came. */
let shown: { readonly shot: string | null; readonly address: string; readonly frame: number } | null = null

export function shownFrame(): number | null {
  return shown?.frame ?? null
}

/** What the current frame of a display is: whose picture, and by how many plate pixels it is moved. */
function whatIs(which: Display): { plate: number; number: number; dx: number; dy: number } {
  const lender = which === 'donor' ? donor.value : null
  return lender
    ? { plate: lender.plate, number: lender.donor, dx: lender.dx, dy: lender.dy }
    : { plate: 0, number: frame.value, dx: 0, dy: 0 }
}

function address(which: Display): string {
  const { plate, number } = whatIs(which)
  return wholeFrame(plate, number)
}

/** The finer rectangle that the room shows, null where whole frames are fine enough. */
function finer(which: Display): { address: string; rect: readonly [number, number, number, number] } | null {
  const { width, aspect } = plateSize.value
  /** Pixels of the screen per pixel of the plate. */
  const dense = view.value.scale * aspect * devicePixelRatio
  if (dense * width <= pictureWidth.value || pictureWidth.value >= width) return null
  const { plate, number, dx, dy } = whatIs(which)
  const moved = {
    ...view.value,
    left: view.value.left + dx * view.value.scale * aspect,
    top: view.value.top + dy * view.value.scale,
  }
  const rect = seen(moved, room.value, plateSize.value)
  if (!rect) return null
  const wide = widthFor(dense * rect[2], rect[2])
  return { address: frameAddress(shotName.value ?? '', plate, number, wide, tone.value, rect), rect }
}

/** Keeps asking for what the picture needs now and soon. */
export function useWanted(): void {
  const timer = useRef<ReturnType<typeof setTimeout>>(undefined)
  useSignalEffect(() => {
    const frames = plate.value?.frames
    if (!frames || shotName.value === null) return
    const which = display.value
    const wanted = [address(which)]
    if (which === 'patched' && preview.value) wanted.unshift(preview.value)
    if (which !== 'shot' && donor.value) wanted.push(wholeFrame(donor.value.plate, donor.value.donor))
    const add = (by: number) => {
      const next = steppedFrame(frames, frame.value, by)
      if (next !== frame.value) wanted.push(wholeFrame(0, next))
    }
    for (let by = 1; by <= AHEAD; by++) {
      add(by)
      if (by <= BEHIND) add(-by)
    }
    pictures.want('whole', wanted)
    clearTimeout(timer.current)
    const detail = playing.value ? null : finer(which)
    timer.current = setTimeout(() => pictures.want('finer', detail ? [detail.address] : []), STILL_MS)
  })
  useEffect(() => () => clearTimeout(timer.current), [])
}

/** Whether the patch is asked for and has not come yet: until then the picture is as shot. */
export function patchAwaited(): boolean {
  if (display.value !== 'patched' || !preview.value) return false
  return pictures.get(preview.value) === null && pictures.fault(preview.value) === null
}

/** Why what should stand in the picture can't be had; null where nothing is known against it. */
export function pictureFault(): string | null {
  const patch = display.value === 'patched' ? preview.value : null
  return pictures.fault(address(display.value)) ?? (patch && pictures.fault(patch))
}

/** Draws all that is there. */
export function paint(canvas: HTMLCanvasElement): void {
  const { w, h } = room.value
  const [width, height] = [Math.round(w * devicePixelRatio), Math.round(h * devicePixelRatio)]
  if (canvas.width !== width || canvas.height !== height) {
    canvas.width = width
    canvas.height = height
  }
  const context = canvas.getContext('2d')!
  context.setTransform(devicePixelRatio, 0, 0, devicePixelRatio, 0, 0)
  context.clearRect(0, 0, w, h)
  const which = display.value
  const { dx, dy } = whatIs(which)
  const wanted = address(which)
  if (pictures.has(wanted)) shown = { shot: shotName.value, address: wanted, frame: frame.value }
  if (shown?.shot !== shotName.value) shown = null
  const whole = shown && pictures.get(shown.address)
  if (!whole) return
  const { width: across, height: down } = plateSize.value
  put(context, whole.bitmap, view.value, moved(whole.rect ?? [0, 0, across, down], dx, dy))
  if (shown!.address !== wanted) return
  const detail = finer(which)
  const fine = detail && pictures.get(detail.address)
  if (detail && fine) {
    put(context, fine.bitmap, view.value, moved(fine.rect ?? detail.rect, dx, dy))
  }
  const patched = which === 'patched' && preview.value ? pictures.get(preview.value) : null
  if (patched?.rect) put(context, patched.bitmap, view.value, patched.rect)
}

type Rectangle = readonly [x: number, y: number, w: number, h: number]

function moved([x, y, w, h]: Rectangle, dx: number, dy: number): Rectangle {
  return [x + dx, y + dy, w, h]
}

function put(
  context: CanvasRenderingContext2D,
  bitmap: ImageBitmap,
  at: View,
  [x, y, w, h]: Rectangle,
): void {
  const { aspect } = plateSize.value
  const [left, top] = toRoom(at, aspect, [x, y])
  const [right, bottom] = toRoom(at, aspect, [x + w, y + h])
  // Whole pixels of a plate that is looked at closely stay pixels.
  context.imageSmoothingEnabled = ((right - left) * devicePixelRatio) / bitmap.width < 2
  context.imageSmoothingQuality = 'high'
  context.drawImage(bitmap, left, top, right - left, bottom - top)
}
