// What somebody should look at before a patch is handed on, with its frames.
import { printFrames } from '../../footage/frames.js'
import { FINISH_LIMITS, limitsWith } from '../finish/finish.js'
import { BEYOND, type FinishMeasure, strayIn, wantedOf, worstOf } from '../finish/words.js'
import type { Patch } from './patch.js'

const MEASURES = Object.keys(FINISH_LIMITS) as FinishMeasure[]

/** @param them what the frames that it is said of are called */
type Remedy = (patch: Patch, them: 'it' | 'them') => string

const regrain: Remedy = ({ regrain }, them) =>
  regrain === false
    ? 'leave out --no-regrain, or put the grain back by hand'
    : `look at ${them} in check.html, and match the grain by hand or pick another candidate`
const look: Remedy = (_, them) => `look at ${them} in check.html, and pick another candidate if it shows`

const REMEDIES: Readonly<Record<FinishMeasure, { readonly below: Remedy; readonly above: Remedy }>> = {
  seam: {
    below: look,
    above: ({ membrane }) => (membrane ? 'grade it by hand' : 'try --membrane, or grade it by hand'),
  },
  detail: { below: look, above: look },
  flicker: { below: regrain, above: look },
  noise: { below: regrain, above: regrain },
}

/** The number of a frame that is furthest beyond a limit, or null. */
interface Beyond {
  readonly target: number
  readonly value: number
  readonly isAbove: boolean
}

/** A sentence per kind of fault, with the frames, the worst number and what to do. */
export function finishWarnings(patch: Patch): string[] {
  const warnings: string[] = []
  const frozen = new Set<number>()
  for (const measure of MEASURES)
    for (const isAbove of [false, true]) {
      let found = beyondOf(patch, measure, isAbove)
      if (measure === 'flicker' && isAbove) found = found.filter((b) => !onlyChangesBack(patch, b, found))
      if (measure === 'flicker' && !isAbove) for (const { target } of found) frozen.add(target)
      // Who stands still has no noise from frame to frame: that is said once.
      if (measure === 'noise' && !isAbove && frozen.size > 0)
        found = found.filter((b) => !isFrozen(b, frozen))
      const text = found.length > 0 ? sentence(patch, measure, found, isAbove) : null
      if (text !== null) warnings.push(text)
    }
  return warnings
}

function beyondOf({ frames, check }: Patch, measure: FinishMeasure, isAbove: boolean): Beyond[] {
  const isBeyond = (value: number, stray: number) => {
    const [least, most] = limitsWith(measure, stray)
    return isAbove ? value > most : value < least
  }
  const each = frames.flatMap(({ target, check: of }): Beyond[] => {
    const stray = strayIn(measure, check?.stray?.frame, of?.uncertainty)
    const values = valuesOf(of?.[measure]).filter((v) => isBeyond(v, stray))
    return values.length > 0 ? [{ target, value: worstOf(values), isAbove }] : []
  })
  if (each.length > 0 || measure === 'detail') return each
  // What no frame tells by itself all together may.
  const all = valuesOf(check?.[measure]).filter((v) => isBeyond(v, strayIn(measure, check?.stray?.all)))
  return all.length > 0 ? frames.map(({ target }) => ({ target, value: worstOf(all), isAbove })) : []
}

function valuesOf(value: number | readonly number[] | null | undefined): readonly number[] {
  if (value === null || value === undefined) return []
  return typeof value === 'number' ? [value] : value
}

/** Is a frame beyond the limit only since the one before it is, which is named already, and quiet after that? */
function onlyChangesBack({ frames }: Patch, { target }: Beyond, found: readonly Beyond[]): boolean {
  const has = (frame: number) => found.some((b) => b.target === frame)
  return has(target - 1) && !has(target + 1) && frames.some((f) => f.target === target + 1)
}

/** The first frame of a still stretch has no frame before it that it could stand still to. */
function isFrozen({ target }: Beyond, frozen: ReadonlySet<number>): boolean {
  return frozen.has(target) || frozen.has(target + 1)
}

function sentence(patch: Patch, measure: FinishMeasure, found: readonly Beyond[], isAbove: boolean): string {
  const value = worstOf(found.map((b) => b.value))
  const { target } = found.find((b) => b.value === value)!
  const isOne = found.every((b) => b.value === value)
  const side = isAbove ? 'above' : 'below'
  const several = found.length > 1
  const [what, remedy] = [BEYOND[measure][side], REMEDIES[measure][side](patch, several ? 'them' : 'it')]
  const on = `on frame${several ? 's' : ''} ${printFrames(found.map((b) => b.target))}`
  const at = isOne ? '' : ` on ${target}`
  return `${on} the patch ${what} (${measure} ${value.toFixed(2)}${at}, ${wantedOf(measure)} is wanted): ${remedy}`
}
