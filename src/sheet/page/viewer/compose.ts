// One frame as one view shows it. RGBA samples, row-major, as a canvas has them.

export type View = 'target' | 'repaired' | 'lent' | 'difference' | 'wipe' | 'flip'

export interface Samples {
  readonly w: number
  readonly h: number
  readonly data: Uint8ClampedArray
}

export interface Scene {
  readonly target: Samples
  /** the repaired picture inside the mask, the donor with its light matched round it */
  readonly lent: Samples
  /** where the lent picture lies on the target */
  readonly left: number
  readonly top: number
  /** lent.w * lent.h, above 0 where the repaired picture may differ from the target */
  readonly support: Uint8ClampedArray
}

export interface Viewing {
  readonly view: View
  /** share of the width that shows the target in a wipe */
  readonly wipe: number
  /** in a flip: whether the repaired picture is up */
  readonly flipped: boolean
  readonly tone: Uint8ClampedArray
  readonly differenceGain: number
}

/** No difference. */
const ZERO = 128

/** Fills `out` (target.w * target.h * 4) with the view. */
export function compose(scene: Scene, viewing: Viewing, out: Uint8ClampedArray): void {
  const { target, lent, left, top, support } = scene
  const { view, tone, differenceGain } = viewing
  const difference = view === 'difference'
  const repairedFrom = repairedColumn(viewing, target.w)
  for (let y = 0, i = 0; y < target.h; y++) {
    const ly = y - top
    const lentRow = ly >= 0 && ly < lent.h
    for (let x = 0; x < target.w; x++, i += 4) {
      const lx = x - left
      const within = lentRow && lx >= 0 && lx < lent.w
      const p = within ? ly * lent.w + lx : -1
      const use = within && (view === 'lent' || difference || (x >= repairedFrom && support[p] > 0))
      for (let c = 0; c < 3; c++) {
        const under = target.data[i + c]
        if (difference) out[i + c] = use ? ZERO + differenceGain * (lent.data[4 * p + c] - under) : ZERO
        else out[i + c] = tone[use ? lent.data[4 * p + c] : under]
      }
      out[i + 3] = 255
    }
  }
}

/** The first column that shows the repaired picture. */
function repairedColumn({ view, wipe, flipped }: Viewing, width: number): number {
  if (view === 'repaired' || (view === 'flip' && flipped)) return 0
  if (view === 'wipe') return Math.round(wipe * width)
  return Infinity
}
