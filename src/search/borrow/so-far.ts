// A moment of which only some frames have been read: what is known of it, what it may be between them, and what is not known.
import type { EarlyCandidate } from '../events.js'
import type { Candidate } from '../result.js'
import type { FoundMoment } from './moments.js'
import { PLATEAU } from './strength.js'

export interface SoFar {
  /** As it may be: from the frame after the last that is known to lie before it, its course on lines between what is known. */
  readonly moment: FoundMoment
  /** First and last frame on which its peak may lie, if it has one. */
  readonly peakWithin: readonly [first: number, last: number]
  /** Its frames that were not read. */
  readonly unread: number
}

/**
 * @param found of the frames that were read
 * @param known which of its plate's frames those are
 * @param there all frames of its plate, ascending
 */
export function knownSoFar(
  found: FoundMoment,
  known: (frame: number) => boolean,
  there: readonly number[],
): SoFar {
  const before = there.findLastIndex((frame) => frame < found.start && known(frame))
  const past = there.findIndex((frame) => frame > found.end && known(frame))
  const after = past < 0 ? there.length : past
  const frames = there.slice(before + 1, after)
  const knots: [frame: number, stops: number][] = [...found.course]
  if (before >= 0) knots.unshift([there[before], 0])
  if (after < there.length) knots.push([there[after], 0])
  const course = new Map<number, number>()
  for (const frame of frames) {
    // What was read and is left out of the course shows too little to tell.
    if (found.course.has(frame) || !known(frame)) course.set(frame, onLine(knots, frame))
  }
  const moment = { ...found, start: frames[0], end: frames[frames.length - 1], course }
  const unread = frames.filter((frame) => !known(frame))
  // What covers the surface peaks where it covers most, of which the course says nothing.
  if (found.what === 'object') return { moment, peakWithin: spanOf(frames), unread: unread.length }
  const weaker = [...found.course].flatMap(([frame, stops]) =>
    stops < PLATEAU * found.strength ? [frame] : [],
  )
  const last = weaker.findLast((frame) => frame < found.peak) ?? Number.NEGATIVE_INFINITY
  const next = weaker.find((frame) => frame > found.peak) ?? Number.POSITIVE_INFINITY
  const may = frames.filter((frame) => frame > last && frame < next)
  const isOpen = may.some((frame) => !known(frame))
  return {
    moment,
    peakWithin: isOpen ? spanOf(may) : [found.peak, found.peak],
    unread: unread.length,
  }
}

function spanOf(frames: readonly number[]): readonly [first: number, last: number] {
  return [frames[0], frames[frames.length - 1]]
}

/** The candidate with what is not known of it yet. */
export function saidSoFar(candidate: Candidate, { moment, peakWithin, unread }: SoFar): EarlyCandidate {
  if (unread === 0) return { ...candidate, peakWithin }
  const [first, last] = peakWithin
  const peak = first === last ? 'its peak is known' : `its peak may lie anywhere on ${first}-${last}`
  const frames = `${unread} frame${unread === 1 ? '' : 's'} of ${moment.start}-${moment.end}`
  const why = `${candidate.why}; ${frames} ${unread === 1 ? 'is' : 'are'} not read yet: ${peak}`
  return { ...candidate, why, peakWithin }
}

/** Between knots on a line, beyond them as the nearest. */
function onLine(knots: readonly (readonly [frame: number, stops: number])[], frame: number): number {
  const next = knots.findIndex(([at]) => at >= frame)
  if (next < 0) return knots[knots.length - 1][1]
  if (next === 0) return knots[0][1]
  const [[a, from], [b, to]] = [knots[next - 1], knots[next]]
  return from + ((to - from) * (frame - a)) / (b - a)
}
