// The frames of a moment that a row shows in a strip.
import type { Candidate } from '../search/result.js'

/** Frames in a strip, the peak among them. */
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
  const peak = inside.find((i) => frames[i].donor === moment.peak)
  const even = Array.from(
    { length: STRIP_FRAMES },
    (_, k) => inside[Math.round((k * (inside.length - 1)) / (STRIP_FRAMES - 1))],
  )
  if (peak === undefined || even.includes(peak)) return even
  // The peak takes the place of the frame next to it.
  const nearest = even.reduce((a, b) => (Math.abs(b - peak) < Math.abs(a - peak) ? b : a))
  return even.map((i) => (i === nearest ? peak : i))
}
