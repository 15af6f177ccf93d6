// Playing at the plate's rate: a frame that has not come or is not drawn yet holds the play up, so that none is left out.
import { signal, useSignalEffect } from '@preact/signals'
import { display, pictures, wholeFrame } from './looking.js'
import { shownFrame } from './painting.js'
import { frame, goTo, plate, playing } from './state.js'
import { nearestFrame } from './strip-scale.js'

/** Of a plate that says none. */
export const USUAL_RATE = 24
/** Frames over which the rate that is reached is told. */
const OVER = 12

/** Frames a second that are reached; null while it does not play. */
export const reached = signal<number | null>(null)

export function usePlayback(): void {
  useSignalEffect(() => {
    const about = plate.value
    if (!playing.value || !about) {
      reached.value = null
      return
    }
    const period = 1000 / (about.framesPerSecond ?? USUAL_RATE)
    let due = performance.now() + period
    const times: number[] = []
    let request = 0
    const tick = (time: number) => {
      request = requestAnimationFrame(tick)
      if (time < due || !isDrawn(frame.peek())) return
      const next = following(about.frames, frame.peek())
      if (!pictures.has(wholeFrame(0, next)) && pictures.fault(wholeFrame(0, next)) === null) return
      due = Math.max(due + period, time)
      goTo(next)
      times.push(time)
      if (times.length <= OVER) return
      times.shift()
      reached.value = Math.round((10_000 * (OVER - 1)) / (times[OVER - 1] - times[0])) / 10
    }
    request = requestAnimationFrame(tick)
    return () => cancelAnimationFrame(request)
  })
}

/** Whether a frame of the plate has been drawn since it was gone to: painting waits for the browser. */
function isDrawn(now: number): boolean {
  return display.peek() !== 'shot' || shownFrame() === now || pictures.fault(wholeFrame(0, now)) !== null
}

/** The next frame, after the last one the first. */
function following(frames: readonly number[], now: number): number {
  const at = frames.indexOf(nearestFrame(frames, now))
  return frames[(at + 1) % frames.length]
}

export function togglePlaying(): void {
  playing.value = !playing.value
}
