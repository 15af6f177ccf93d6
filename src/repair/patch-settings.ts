// What is asked of a patch, checked against the result and the candidate it is for, before anything is made.
import { FEATHER_PX, type FeatherSide, type PatchFormat } from '../defaults.js'
import { misuse, option } from '../errors.js'
import type { Offset } from '../raster/transform.js'
import { type Fade, fadesOf } from '../search/borrow/fade.js'
import type { Candidate } from '../search/result.js'
import { checkStrength, referenceShares } from './lighting/lighting-pass.js'
import { checkNudge, nudged } from './nudge.js'
import type { RepairJob } from './repair.js'
import { wholeEnding } from './write.js'

/** As it is asked for; what is absent is as the candidate has it by itself. */
export interface PatchWishes {
  readonly whole?: boolean
  readonly ratio?: boolean
  /** Pixels. */
  readonly feather?: number
  readonly featherSide: FeatherSide
  /** By which the candidate is moved by hand. */
  readonly nudge?: Offset
  readonly strength?: number
  readonly fade?: Fade
  readonly membrane?: boolean
  readonly regrain: boolean
  /** Of lent pixels; what is multiplied is EXR, and a whole frame as the plate has it. */
  readonly format?: PatchFormat
}

/** What is written of one candidate, and how. */
export interface PatchSettings {
  /** Moved by hand where that was asked for. */
  readonly candidate: Candidate
  readonly whole: boolean
  /** The change of light alone instead of the donor's pixels. */
  readonly ratio: boolean
  readonly featherPx: number
  readonly featherSide: FeatherSide
  readonly by: Offset | undefined
  readonly strength: number | undefined
  readonly fade: Fade | undefined
  readonly membrane: boolean
  readonly addGrain: boolean
  readonly format: PatchFormat
}

/** @throws MISUSE where a wish has no effect on this candidate or is out of its range */
export function settingsOf(job: RepairJob, picked: Candidate, wishes: PatchWishes): PatchSettings {
  const { featherPx, ratio } = checkWishes(job, picked, wishes)
  const { whole = false, nudge: by, strength, fade, featherSide, membrane = false } = wishes
  const { regrain: addGrain, format = 'exr' } = wishes
  const candidate = by === undefined ? picked : nudged(picked, by, job.target)
  if (ratio) fadesOf(candidate, fade)
  return { candidate, whole, ratio, featherPx, featherSide, by, strength, fade, membrane, addGrain, format }
}

/**
 * What can be told of wishes while their candidate is still to be searched for: by its name, and whether it is a moment.
 *
 * @throws MISUSE as settingsOf, but for the length of a fade
 */
export function checkWishes(
  { result, target }: Pick<RepairJob, 'result' | 'target'>,
  candidate: Pick<Candidate, 'id' | 'moment'>,
  wishes: PatchWishes,
): Pick<PatchSettings, 'featherPx' | 'ratio'> {
  const { feather, ratio = candidate.moment !== undefined, nudge, strength, fade, membrane = false } = wishes
  if (nudge !== undefined) checkNudge(candidate, nudge, target)
  const { surround } = result.region
  const featherPx = feather ?? Math.min(FEATHER_PX, surround)
  if (featherPx < 0 || featherPx > surround)
    throw misuse(option('feather'), `0 to the surround's ${surround} px`, featherPx)
  if (ratio) referenceShares(candidate)
  const ofRatio = [`effect with ${option('ratio')} only`, `no ${option('ratio')}`] as const
  if (strength !== undefined && !ratio) throw misuse(option('strength'), ...ofRatio)
  if (strength !== undefined) checkStrength(strength)
  if (fade !== undefined && !ratio) throw misuse(option('fade'), ...ofRatio)
  if (membrane && ratio)
    throw misuse(option('membrane'), 'effect on pixels that are lent, not on a ratio', candidate.id)
  const { format, whole = false } = wishes
  const ending = whole ? wholeEnding(target) : ratio ? 'exr' : format
  if (format !== undefined && format !== ending) {
    const what = whole ? 'whole frames, which are written as the plate is:' : 'what is multiplied, which is'
    throw misuse(option('format'), `no effect on ${what} ${ending}`, format)
  }
  return { featherPx, ratio }
}
