// Flags of a patch as the library takes them.
import {
  checkWishes as check,
  type PatchSettings,
  type PatchWishes,
  settingsOf as settingsFor,
} from '../../repair/patch-settings.js'
import type { RepairJob } from '../../repair/repair.js'
import type { Candidate } from '../../search/result.js'
import { parseFade, parseOffset } from '../options.js'
import type { PatchFlags } from './flags.js'

export type { PatchSettings }

/** @throws MISUSE where a flag can't be read, has no effect on this candidate or is out of its range */
export function settingsOf(job: RepairJob, picked: Candidate, flags: PatchFlags): PatchSettings {
  return settingsFor(job, picked, wishesOf(flags))
}

/** Of a candidate that hides and is still to be searched for. @throws as settingsOf */
export function checkWishes(job: RepairJob, id: string, flags: PatchFlags): void {
  check(job, { id }, wishesOf(flags))
}

function wishesOf({ nudge, fade, ...others }: PatchFlags): PatchWishes {
  return {
    ...others,
    ...(nudge === undefined ? {} : { nudge: parseOffset(nudge, '--nudge') }),
    ...(fade === undefined ? {} : { fade: parseFade(fade) }),
  }
}
