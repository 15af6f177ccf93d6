// Which frame of which plate of a shot.

/** A frame of one of the plates of a shot. */
export interface FrameKey {
  /** Index into the shot's plates; 0 is the target's. */
  readonly plate: number
  readonly frame: number
}

export const keyOf = ({ plate, frame }: FrameKey): string => `${plate}:${frame}`

/** The frames among them that belong to one plate. */
export function framesOf(keys: readonly FrameKey[], plate: number): number[] {
  return keys.filter((key) => key.plate === plate).map((key) => key.frame)
}

/** Order of plate and frame. */
export function byFrame(a: FrameKey, b: FrameKey): number {
  return a.plate - b.plate || a.frame - b.frame
}
