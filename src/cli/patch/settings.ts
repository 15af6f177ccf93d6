// Flags of a patch as the library takes them.
import { type PatchSettings, settingsOf as settingsFor } from '../../repair/patch-settings.js'
import type { RepairJob } from '../../repair/repair.js'
import type { Candidate } from '../../search/result.js'
import { parseFade, parseOffset } from '../options.js'
import type { PatchFlags } from './flags.js'

export type { PatchSettings }

/** @throws MISUSE where a flag can't be read, has no effect on this candidate or is out of its range */
export function settingsOf(job: RepairJob, picked: Candidate, flags: PatchFlags): PatchSettings {
  const { nudge, fade, ...others } = flags
  return settingsFor(job, picked, {
    ...others,
    ...(nudge === undefined ? {} : { nudge: parseOffset(nudge, '--nudge') }),
    ...(fade === undefined ? {} : { fade: parseFade(fade) }),
  })
}
