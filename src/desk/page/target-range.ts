// The target range: its two ends, and how they are set.
import { computed, signal } from '@preact/signals'
import { framesOf, rangeFault, rangeText } from './range-text.js'
import { ask, frame, plate, state } from './state.js'

/** While an end is dragged. */
export const rangeDraft = signal<readonly [number, number] | null>(null)

export const targets = computed<readonly number[]>(() => {
  const dragged = rangeDraft.value
  const frames = plate.value?.frames ?? []
  return framesOf(dragged ? rangeText(frames, dragged[0], dragged[1]) : (state.value?.asked.frames ?? ''))
})

/** Why a search would refuse the range; null: it would not. */
export const fault = computed<string | null>(() =>
  plate.value ? rangeFault(state.value?.asked.frames ?? '', plate.value) : null,
)

export const ends = computed<readonly [number, number] | null>(() => {
  const all = targets.value
  return all.length === 0 ? null : [all[0], all[all.length - 1]]
})

export function setRange(from: number, to: number, run: string | null = null): void {
  const frames = plate.value?.frames
  if (frames) ask({ frames: rangeText(frames, from, to) }, run, 'range')
}

/** An end at the current frame; one that would lie beyond the other takes it along. */
export function setEnd(which: 'first' | 'last', at = frame.value, run: string | null = null): void {
  const [first, last] = ends.value ?? [at, at]
  if (which === 'first') setRange(at, Math.max(at, last), run)
  else setRange(Math.min(first, at), at, run)
}
