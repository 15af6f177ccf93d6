// What is too much for a file or for light, in a sentence each.
import { framesInWords } from '../../footage/frames.js'
import { MAX_LIGHT_STOPS } from '../../match/light-law.js'

/** By frame: the largest code value of what a file can't hold, the most stops of a lift that no light does. */
export interface Excess {
  readonly clipped: Map<number, number>
  readonly beyondLight: Map<number, number>
}

export interface ExcessOf {
  readonly ratio: boolean
  readonly whole: boolean
  readonly format: string
}

export function excessWarnings(
  { clipped, beyondLight }: Excess,
  { ratio, whole, format }: ExcessOf,
): string[] {
  const on = (frames: ReadonlyMap<number, number>) => `on ${framesInWords([...frames.keys()])}`
  const warnings: string[] = []
  if (clipped.size > 0) {
    const most = Math.max(...clipped.values()).toFixed(2)
    const what = ratio ? 'what is lifted is' : 'the patch is'
    const file = whole ? 'PNG' : `16-bit ${format}`
    const remedy = ratio ? 'the ratio, without --whole, keeps it' : '--format exr keeps it'
    warnings.push(
      `${on(clipped)} ${what} brighter than a ${file} can hold, up to ${most} times full, and is clipped there: ${remedy}`,
    )
  }
  if (beyondLight.size > 0) {
    const most = Math.max(...beyondLight.values()).toFixed(1)
    warnings.push(
      `${on(beyondLight)} the ratio changes by up to ${most} stops, and no shadow or gleam by more than ${MAX_LIGHT_STOPS}: a smaller --strength stays within`,
    )
  }
  return warnings
}
