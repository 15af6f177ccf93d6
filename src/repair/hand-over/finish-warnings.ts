// What somebody should look at before a patch is handed on, with its frames.
import { printFrames } from '../../footage/frames.js'
import { FINISH_LIMITS } from '../finish/finish.js'
import type { Patch } from './patch.js'

type Measure = keyof typeof FINISH_LIMITS
const MEASURES = Object.keys(FINISH_LIMITS) as Measure[]

interface Saying {
  /** In words that follow "on frames 1002-1004 the patch". */
  readonly what: string
  readonly remedy: (patch: Patch) => string
}

const regrain = ({ regrain }: Patch) =>
  regrain === false
    ? 'leave out --no-regrain, or put the grain back by hand'
    : 'look at them in check.html, and match the grain by hand or pick another candidate'
const look = () => 'look at them in check.html, and pick another candidate if it shows'

const SAID: Readonly<Record<Measure, { readonly below: Saying; readonly above: Saying }>> = {
  seam: {
    below: { what: '', remedy: look },
    above: {
      what: 'differs from the plate at its border by more than grain does',
      remedy: ({ membrane }) => (membrane ? 'grade it by hand' : 'try --membrane, or grade it by hand'),
    },
  },
  detail: {
    below: { what: 'is smoother than its donors', remedy: look },
    above: { what: 'is rougher than its donors', remedy: look },
  },
  flicker: {
    below: { what: 'stands still where the plate beside it moves', remedy: regrain },
    above: { what: 'boils or jumps: it changes more than the plate beside it', remedy: look },
  },
  noise: {
    below: { what: 'has less noise than the plate beside it', remedy: regrain },
    above: { what: 'has more noise than the plate beside it', remedy: regrain },
  },
}

/** So many standard errors beyond a limit are no chance. */
const SURE = 2

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

function beyondOf({ frames, check }: Patch, measure: Measure, isAbove: boolean): Beyond[] {
  const [least, most] = FINISH_LIMITS[measure]
  const isBeyond = (value: number, chance: number) =>
    isAbove ? value > most * (1 + chance) : value < least / (1 + chance)
  const each = frames.flatMap(({ target, check: of }): Beyond[] => {
    const isRatio = measure === 'flicker' || measure === 'noise'
    const chance = isRatio ? SURE * (of?.uncertainty ?? 0) : 0
    const values = valuesOf(of?.[measure]).filter((v) => isBeyond(v, chance))
    return values.length > 0 ? [{ target, value: worst(values), isAbove }] : []
  })
  if (each.length > 0 || measure === 'detail') return each
  // What no frame tells by itself all together may.
  const all = valuesOf(check?.[measure]).filter((v) => isBeyond(v, 0))
  return all.length > 0 ? frames.map(({ target }) => ({ target, value: worst(all), isAbove })) : []
}

function valuesOf(value: number | readonly number[] | null | undefined): readonly number[] {
  if (value === null || value === undefined) return []
  return typeof value === 'number' ? [value] : value
}

function worst(values: readonly number[]): number {
  const stray = (v: number) => Math.abs(Math.log(Math.max(1e-6, v)))
  return values.reduce((a, b) => (stray(b) > stray(a) ? b : a))
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

function sentence(patch: Patch, measure: Measure, found: readonly Beyond[], isAbove: boolean): string {
  const value = worst(found.map((b) => b.value))
  const { target } = found.find((b) => b.value === value)!
  const isOne = found.every((b) => b.value === value)
  const [least, most] = FINISH_LIMITS[measure]
  const { what, remedy } = SAID[measure][isAbove ? 'above' : 'below']
  const on = `on frame${found.length > 1 ? 's' : ''} ${printFrames(found.map((b) => b.target))}`
  const at = isOne ? '' : ` on ${target}`
  const wanted = least === 0 ? `at most ${most}` : `${least} to ${most}`
  return `${on} the patch ${what} (${measure} ${value.toFixed(2)}${at}, ${wanted} is wanted): ${remedy(patch)}`
}
