// Flags checked against the result and the candidate they are for, before anything is written.
import { FEATHER_PX, type FeatherSide, type PatchFormat } from '../../defaults.js'
import { misuse } from '../../errors.js'
import type { Offset } from '../../raster/transform.js'
import { type Fade, fadesOf } from '../../repair/lighting/fade.js'
import { checkStrength } from '../../repair/lighting/lighting-pass.js'
import { nudged } from '../../repair/nudge.js'
import type { RepairJob } from '../../repair/repair.js'
import type { Candidate } from '../../search/result.js'
import { parseFade, parseOffset } from '../options.js'
import type { PatchFlags } from './flags.js'

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

/** @throws MISUSE where a flag has no effect on this candidate or is out of its range */
export function settingsOf(job: RepairJob, picked: Candidate, flags: PatchFlags): PatchSettings {
  const by = flags.nudge === undefined ? undefined : parseOffset(flags.nudge, '--nudge')
  const candidate = by === undefined ? picked : nudged(picked, by, job.target)
  const { surround } = job.result.region
  const featherPx = flags.feather ?? Math.min(FEATHER_PX, surround)
  if (featherPx < 0 || featherPx > surround) {
    throw misuse('--feather', `0 to the surround's ${surround} px`, featherPx)
  }
  const ratio = flags.ratio ?? candidate.moment !== undefined
  if (flags.strength !== undefined && !ratio)
    throw misuse('--strength', 'effect with --ratio only', 'no --ratio')
  if (flags.strength !== undefined) checkStrength(flags.strength)
  if (flags.fade !== undefined && !ratio) throw misuse('--fade', 'effect with --ratio only', 'no --ratio')
  const fade = flags.fade === undefined ? undefined : parseFade(flags.fade)
  if (ratio) fadesOf(candidate, fade)
  if (flags.membrane && ratio)
    throw misuse('--membrane', 'effect on pixels that are lent, not on a ratio', picked.id)
  const { strength, featherSide, membrane = false, regrain: addGrain, format, whole = false } = flags
  return { candidate, whole, ratio, featherPx, featherSide, by, strength, fade, membrane, addGrain, format }
}
