// What somebody should look at before a patch is handed on, with its frames.
import { printFrames } from '../../footage/frames.js'
import { FINISH_LIMITS, type Finish } from '../hide/finish.js'
import type { PatchFrame } from './patch.js'

const SAID: Readonly<Record<keyof Finish, readonly [below: string, above: string]>> = {
  seam: ['', 'the patch differs from the plate beside the mask by more than grain does'],
  detail: ['is smoother than its donors', 'is rougher than its donors'],
  change: ['stands stiller than the plate does there', 'boils: it changes more than the plate does there'],
}

/** A sentence per kind of fault, with the frames and the worst number. */
export function finishWarnings(frames: readonly PatchFrame[]): string[] {
  const warnings: string[] = []
  for (const [key, [least, most]] of Object.entries(FINISH_LIMITS) as [
    keyof Finish,
    readonly [number, number],
  ][])
    for (const isAbove of [false, true]) {
      const beyond = frames.flatMap(({ target, check }) => {
        const value = check?.[key] ?? null
        return value !== null && (isAbove ? value > most : value < least) ? [{ target, value }] : []
      })
      if (beyond.length === 0) continue
      const worst = beyond.reduce((a, b) =>
        Math.abs(Math.log(b.value)) > Math.abs(Math.log(a.value)) ? b : a,
      )
      const on = `on frame${beyond.length > 1 ? 's' : ''} ${printFrames(beyond.map((b) => b.target))}`
      const what = key === 'seam' ? SAID.seam[1] : `the patch ${SAID[key][isAbove ? 1 : 0]}`
      warnings.push(
        `${on} ${what} (${worst.value.toFixed(2)} on ${worst.target}, ${least} to ${most} is meant)`,
      )
    }
  return warnings
}
