// What it is called when a patch is not as the plate is: the same words on the sheet, before it is written, and with its frames.
import { FINISH_LIMITS, limitsWith, type WholeFinish } from './finish.js'
import type { Stray } from './stray.js'

export type FinishMeasure = keyof typeof FINISH_LIMITS

/** What a patch does that lies below a measure's limits, and above; nothing lies below none. */
export const BEYOND: Readonly<Record<FinishMeasure, { readonly below: string; readonly above: string }>> = {
  seam: { below: '', above: 'differs from the plate at its border by more than grain does' },
  detail: { below: 'is smoother than its donors', above: 'is rougher than its donors' },
  flicker: {
    below: 'stands still where the plate beside it moves',
    above: 'boils or jumps: it changes more than the plate beside it',
  },
  noise: {
    below: 'has less noise than the plate beside it',
    above: 'has more noise than the plate beside it',
  },
}

/** A measure's limits: "at most 1.2", "0.9 to 1.1". */
export function wantedOf(measure: FinishMeasure): string {
  const [least, most] = FINISH_LIMITS[measure]
  return least === 0 ? `at most ${most}` : `${least} to ${most}`
}

/** By how much a measure strays where the plate has no patch, and by its own uncertainty: only ratios to the plate do. */
export function strayIn(
  measure: FinishMeasure,
  stray: Stray | undefined,
  uncertainty: number | null = 0,
): number {
  return measure === 'flicker' || measure === 'noise'
    ? Math.hypot(uncertainty ?? 0, stray?.[measure] ?? 0)
    : 0
}

/** Of several values the one that is furthest from 1. */
export function worstOf(values: readonly number[]): number {
  const stray = (v: number) => Math.abs(Math.log(Math.max(1e-6, v)))
  return values.reduce((a, b) => (stray(b) > stray(a) ? b : a))
}

/** What is beyond the limits of all frames together, worst value and all; a patch of them is warned of it. */
export function faultsOf(finish: Omit<WholeFinish, 'unmeasured' | 'spectrum'>): string[] {
  const faults: string[] = []
  let isFrozen = false
  for (const measure of ['seam', 'flicker', 'noise'] as const) {
    const value = finish[measure]
    if (value === null) continue
    const values: readonly number[] = typeof value === 'number' ? [value] : value
    const [least, most] = limitsWith(measure, strayIn(measure, finish.stray?.all))
    for (const side of ['below', 'above'] as const) {
      const beyond = values.filter((v) => (side === 'below' ? v < least : v > most))
      // What stands still has no noise from frame to frame: that is said once.
      if (beyond.length === 0 || (measure === 'noise' && side === 'below' && isFrozen)) continue
      if (measure === 'flicker' && side === 'below') isFrozen = true
      const figure = `${measure} ${worstOf(beyond).toFixed(2)}, ${wantedOf(measure)} is wanted`
      faults.push(`${BEYOND[measure][side]} (${figure})`)
    }
  }
  return faults
}
