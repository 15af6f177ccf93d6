// The frames of a moment that a row shows in a strip.
import type { Candidate } from '../../search/result.js'

/** Frames in a strip, the peak and the worst among them. */
const STRIP_FRAMES = 7
/** Frames before the start and after the end that still belong into the strip, to see that it is quiet there. */
const QUIET_FRAMES = 1

/** Indices into the candidate's frames, evenly round the peak from quiet to quiet as far as the range goes. */
export function stripFrames({ frames, moment }: Candidate): number[] {
  if (!moment) return []
  const inside = frames.flatMap(({ donor }, i) =>
    donor >= moment.start - QUIET_FRAMES && donor <= moment.end + QUIET_FRAMES ? [i] : [],
  )
  if (inside.length <= STRIP_FRAMES) return inside
  const strip = Array.from(
    { length: STRIP_FRAMES },
    (_, k) => inside[Math.round((k * (inside.length - 1)) / (STRIP_FRAMES - 1))],
  )
  const kept: number[] = []
  for (const frame of [moment.peak, moment.worst]) {
    const wanted = inside.find((i) => frames[i].donor === frame)
    if (wanted === undefined) continue
    // It takes the place of the frame next to it, unless that is the other one.
    if (!strip.includes(wanted)) {
      const free = strip.filter((i) => !kept.includes(i))
      const nearest = free.reduce((a, b) => (Math.abs(b - wanted) < Math.abs(a - wanted) ? b : a))
      strip[strip.indexOf(nearest)] = wanted
    }
    kept.push(wanted)
  }
  return strip.sort((a, b) => a - b)
}
