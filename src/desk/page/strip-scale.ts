// Frame numbers along the strip: as they are, gaps as wide as they are.

/** From the left edge of the first frame to the right edge of the last, CSS pixels. */
export interface StripScale {
  readonly first: number
  readonly last: number
  readonly width: number
}

/** Width of one frame, CSS pixels. */
export function frameWidth({ first, last, width }: StripScale): number {
  return width / (last - first + 1)
}

/** Left edge of a frame. */
export function xOf(scale: StripScale, frame: number): number {
  return (frame - scale.first) * frameWidth(scale)
}

/** The number under a place, whether there is such a frame or not. */
export function numberAt(scale: StripScale, x: number): number {
  const frame = scale.first + Math.floor(x / frameWidth(scale))
  return Math.min(scale.last, Math.max(scale.first, frame))
}

/** The frame that exists and lies nearest to a number; of two the earlier. @param frames ascending, at least one */
export function nearestFrame(frames: readonly number[], number: number): number {
  let [low, high] = [0, frames.length - 1]
  while (low < high) {
    const middle = (low + high) >> 1
    if (frames[middle] < number) low = middle + 1
    else high = middle
  }
  const [before, after] = [frames[Math.max(0, low - 1)], frames[low]]
  return number - before <= after - number ? before : after
}

/** So many existing frames on, at most the first or the last. */
export function steppedFrame(frames: readonly number[], frame: number, by: number): number {
  const at = frames.indexOf(nearestFrame(frames, frame))
  return frames[Math.min(frames.length - 1, Math.max(0, at + by))]
}

/** Round numbers to write under the strip, none nearer to the next than `apart` CSS pixels. */
export function ticks(scale: StripScale, apart: number): number[] {
  const least = apart / frameWidth(scale)
  const power = 10 ** Math.floor(Math.log10(Math.max(1, least)))
  const step = [1, 2, 5, 10].map((n) => n * power).find((n) => n >= least) ?? 10 * power
  const all: number[] = []
  for (let n = Math.ceil(scale.first / step) * step; n <= scale.last; n += step) all.push(n)
  return all
}

/** Numbers to write under the strip: its first and last frame, and round ones that keep `apart` CSS pixels from all others. */
export function numbersUnder(scale: StripScale, apart: number): number[] {
  const { first, last } = scale
  const wide = frameWidth(scale)
  const between = ticks(scale, apart).filter(
    (frame) => (frame - first) * wide >= apart && (last - frame) * wide >= apart,
  )
  return (last - first) * wide < apart ? [first] : [first, ...between, last]
}

/** Whether a gap of the plate lies between two of its frames. */
export function isBroken(
  gaps: readonly { readonly first: number; readonly last: number }[],
  from: number,
  to: number,
): boolean {
  return gaps.some(({ first }) => first > from && first < to)
}
