// What the large picture shows: which frame of which plate, how large, how bright.

import { computed, signal, useSignalEffect } from '@preact/signals'
import type { FrameMatch } from '../../search/result.js'
import { proxyWidth } from '../proxy-size.js'
import { frameAddress, previewAddress, type Tone } from './api.js'
import { Pictures } from './pictures.js'
import { candidate, frame, plate, search, shotName, state, step } from './state.js'
import { fitted, type PlateSize, type Room, type View } from './view.js'

/** Counts the pictures that came in, so that whoever draws them draws again. */
export const arrivals = signal(0)
export const pictures = new Pictures(() => {
  arrivals.value++
})

/** Room of the picture, CSS pixels. */
export const room = signal<Room>({ w: 1, h: 1 })
/** Null: all of the plate. */
export const freeView = signal<View | null>(null)

export const plateSize = computed<PlateSize>(() => {
  const about = plate.value
  return about
    ? { width: about.width, height: about.height, aspect: about.pixelAspect }
    : { width: 1, height: 1, aspect: 1 }
})
export const view = computed<View>(() => freeView.value ?? fitted(room.value, plateSize.value))

export const tone = computed<Tone>(() => {
  const { exposureStops = 0, gamma = 1, look = null } = state.value?.view ?? {}
  return { exposureStops, gamma, look }
})

/** What stands in the large picture. */
export type Display = 'shot' | 'donor' | 'patched'
export const display = signal<Display>('shot')

/** A frame that was asked for by a click on the match matrix: it lends to the current one. */
export const cell = signal<{
  readonly target: number
  readonly plate: number
  readonly frame: number
} | null>(null)

/** The donor of the frame that is up, of several the one that counts most: of the cell that was clicked, or of the candidate. */
export const donor = computed<Pick<FrameMatch, 'plate' | 'donor' | 'dx' | 'dy' | 'stack' | 'pieces'> | null>(
  () => {
    const asked = cell.value
    if (asked && asked.target === frame.value) return { plate: asked.plate, donor: asked.frame, dx: 0, dy: 0 }
    return candidate.value?.frames.find(({ target }) => target === frame.value) ?? null
  },
)

/** Widths that pictures come in: few, so that what came once serves again. */
const WIDTHS = [640, 960, 1280, 1920, 2560, 3840]

/** The width in which a picture comes that is shown so wide, pixels. @param most what there is of it */
export function widthFor(shown: number, most: number): number {
  return Math.min(most, WIDTHS.find((w) => w >= shown) ?? WIDTHS[WIDTHS.length - 1])
}

/**
 * Width of whole frames, pixels: what the room shows when all of the plate is in it, and no more than the desk keeps of each, so
 * that going through them decodes nothing twice.
 */
export const pictureWidth = computed(() => {
  const { width, aspect } = plateSize.value
  const shown = fitted(room.value, plateSize.value).scale * aspect * width * devicePixelRatio
  return widthFor(shown, proxyWidth(width))
})

export function wholeFrame(plateIndex: number, number: number): string {
  return frameAddress(shotName.value ?? '', plateIndex, number, pictureWidth.value, tone.value)
}

/** Address of the preview of the picked candidate on the current frame; null where there is nothing to show. */
export const preview = computed<string | null>(() => {
  const [name, run, pick, now] = [shotName.value, search.value, candidate.value, state.value]
  if (!name || !now || run?.state !== 'done' || !pick) return null
  if (!pick.frames.some(({ target }) => target === frame.value)) return null
  return previewAddress(name, run.folder, pick.id, frame.value, plateSize.value.width, now.patch, tone.value)
})

/** Another step begins with what it is about: the plate as shot, the patch as it would be. */
export function useDisplayOfStep(): void {
  useSignalEffect(() => {
    const now = step.value
    cell.value = null
    display.value = now === 'patch' ? 'patched' : now === 'choose' ? display.peek() : 'shot'
  })
}

/** Two pictures in turn by hand change at most three times a second (WCAG 2.2, 2.3.1). */
const SWAP_MS = 334
let swapped = -Infinity

export function show(next: Display): void {
  if (next === display.value) return
  const now = performance.now()
  if (now - swapped < SWAP_MS) return
  swapped = now
  display.value = next
}
