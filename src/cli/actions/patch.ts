// offcut patch: the picked candidate as a sequence of patches, or as whole repaired frames.
import type { Look } from '../../colour/look/look.js'
import { readLook } from '../../colour/look/read-look.js'
import { misuse, OffcutError } from '../../errors.js'
import { openRepair, type RepairJob } from '../../repair/repair.js'
import { CLEAN_ID, findCleanPlate } from '../../search/hide/clean-plate.js'
import type { Result } from '../../search/result.js'
import { readResult } from '../../search/result-file.js'
import type { Io } from '../io.js'
import { chosen } from '../patch/chosen.js'
import type { GivenFlags, PatchFlags } from '../patch/flags.js'
import { patchOne, refusePatch } from '../patch/patch-one.js'
import { patchSeveral } from '../patch/patch-several.js'

/** @throws MISUSE, and as openRepair and the writers of patches */
export function patch(specs: readonly string[], { pick, ...flags }: GivenFlags, io: Io): Promise<void> {
  return specs.length > 1
    ? patchSeveral(specs, pick ?? [], flags, io)
    : patchFrom(specs[0]!, onePick(pick, flags), io)
}

/** Of one result one candidate is picked. */
function onePick(pick: GivenFlags['pick'], flags: Omit<GivenFlags, 'pick'>): PatchFlags {
  if (pick !== undefined && pick.length > 1)
    throw misuse('--pick', 'one candidate of one result, or a result for each', pick.join(', '))
  return { ...flags, ...(pick === undefined ? {} : { pick: pick[0] }) }
}

async function patchFrom(spec: string, flags: PatchFlags, io: Io): Promise<void> {
  const { folder, result } = await readResult(spec)
  const look = flags.look === undefined ? undefined : await readLook(flags.look)
  if (flags.clean) return patchClean(folder, result, look, flags, io)
  await withJob(result, (job) => patchAll(folder, job, flags, io), { look })
}

/** Searched for, not picked: every frame of the plate has its own donor. */
async function patchClean(
  folder: string,
  result: Result,
  look: Look | undefined,
  flags: PatchFlags,
  io: Io,
): Promise<void> {
  for (const [flag, given] of [
    ['--pick', flags.pick],
    ['--decisions', flags.decisions],
    ['--nudge', flags.nudge],
    ['--ratio', flags.ratio],
  ] as const)
    if (given !== undefined && given !== false) throw misuse('--clean', `no ${flag} beside it`, flag)
  await withJob(result, (job) => refusePatch(folder, job, CLEAN_ID, flags, io))
  const found = await findCleanPlate(result, { onProgress: io.progress.report, signal: io.signal })
  io.progress.clear()
  await withJob(found.result, (job) => patchOne(folder, job, found.candidate, flags, io), { look })
}

async function withJob(
  result: Result,
  work: (job: RepairJob) => Promise<void>,
  options: { readonly look?: Look } = {},
): Promise<void> {
  const job = await openRepair(result, options)
  try {
    await work(job)
  } finally {
    job.close()
  }
}

async function patchAll(folder: string, job: RepairJob, flags: PatchFlags, io: Io): Promise<void> {
  const { result } = job
  if (flags.nudge !== undefined && flags.decisions !== undefined)
    throw misuse(
      '--nudge',
      'effect with --pick only: a yes was given to the donor where it lay',
      '--decisions',
    )
  const other = job.changed.find(({ what }) => what === 'mask' || what === 'options')
  // A yes was given to the mask as it was. A plate's files may have got another date by a mere copy.
  if (flags.decisions !== undefined && other !== undefined) {
    const remedy = 'search again and decide on that, or patch this candidate by --pick'
    throw new OffcutError('RESULT_STALE', `${other.message}; ${remedy}`, 2)
  }
  for (const { message } of job.changed) io.say(`warning: ${message}`)
  const beforeSearch = (id: string) => refusePatch(folder, job, id, flags, io)
  for (const candidate of await chosen(result, flags, io, beforeSearch))
    await patchOne(folder, job, candidate, flags, io)
}
