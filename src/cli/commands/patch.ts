// offcut patch: the picked candidate as a sequence of patches, or as whole repaired frames.
import { type Command, Option } from 'commander'
import { readLook } from '../../colour/look/read-look.js'
import { misuse, OffcutError } from '../../errors.js'
import { FEATHER_SIDES } from '../../region/region.js'
import { FADE_FRAMES } from '../../repair/lighting/fade.js'
import { MAX_STRENGTH, STRENGTH } from '../../repair/lighting/lighting-pass.js'
import { FEATHER_PX, openRepair, type RepairJob } from '../../repair/repair.js'
import { PATCH_FORMATS } from '../../repair/write.js'
import { findCleanPlate } from '../../search/hide/clean-plate.js'
import type { Result } from '../../search/result.js'
import { readResult } from '../../search/result-file.js'
import type { Io } from '../io.js'
import { lookOption, number, outFolder, overwriteOption, wholeNumber } from '../options.js'
import { chosen } from '../patch/chosen.js'
import type { GivenFlags, PatchFlags } from '../patch/flags.js'
import { patchOne } from '../patch/patch-one.js'
import { patchSeveral } from '../patch/patch-several.js'

export function addPatch(program: Command, io: Io): void {
  program
    .command('patch')
    .description('write the picked candidate as a patch sequence with alpha, or as whole repaired frames')
    .argument(
      '<results...>',
      'the folder that offcut find wrote, or its result.json; of several over one plate the later ones lie on top',
    )
    .option(
      '--pick <candidate>',
      'the id of a candidate, as on the sheet, a folded alternative or any hold, run or mirror; once for each result',
      (id: string, ids: readonly string[] = []) => [...ids, id],
    )
    .option('--decisions <file>', 'what the sheet saved: every accepted candidate instead of --pick')
    .option(
      '--out <dir>',
      'where to write (default: a folder of the candidate in the result folder)',
      outFolder,
    )
    .option(
      '--clean',
      'instead of --pick: the region with nobody in front on every frame of the plate, of a hide; the search is run again',
    )
    .option('--whole', 'the repaired full frames instead of the patch')
    .option(
      '--ratio',
      'the change of light alone, as an EXR to multiply with (of a borrow the default); with --whole the frames multiplied',
    )
    .option('--no-ratio', 'the donor’s pixels instead, as for a hide')
    .option(
      '--strength <factor>',
      `of the ratio: multiplies its stops, 0 to ${MAX_STRENGTH} (default: ${STRENGTH})`,
      number('--strength'),
    )
    .option(
      '--fade <in,out>',
      `frames over which the ratio comes in and goes out within its moment (default: ${FADE_FRAMES},${FADE_FRAMES}, short of the peak)`,
    )
    .option(
      '--feather <px>',
      `width over which the patch fades out at the mask's edge, at most the surround's (default: ${FEATHER_PX})`,
      wholeNumber('--feather'),
    )
    .addOption(
      new Option('--feather-side <side>', "where from the mask's edge it fades out")
        .choices(FEATHER_SIDES)
        .default('outside'),
    )
    .option(
      '--nudge <dx,dy>',
      'move the donor by hand, pixels right and down, beside the offset that was found',
    )
    .option(
      '--membrane',
      'close what is left of a difference in light at the patch’s border, spanned over what crosses it',
    )
    .option('--no-regrain', 'leave a resampled or averaged patch as smooth as it is')
    .addOption(
      new Option(
        '--format <name>',
        'of the patch: half-float EXR, or 16-bit PNG or TIFF in the plate’s encoding',
      )
        .choices(PATCH_FORMATS)
        .default('exr'),
    )
    .addOption(lookOption())
    .addOption(overwriteOption())
    .action((specs: string[], { pick, ...flags }: GivenFlags) =>
      specs.length > 1
        ? patchSeveral(specs, pick ?? [], flags, io)
        : patch(specs[0]!, onePick(pick, flags), io),
    )
}

/** Of one result one candidate is picked. */
function onePick(pick: GivenFlags['pick'], flags: Omit<GivenFlags, 'pick'>): PatchFlags {
  if (pick !== undefined && pick.length > 1)
    throw misuse('--pick', 'one candidate of one result, or a result for each', pick.join(', '))
  return { ...flags, ...(pick === undefined ? {} : { pick: pick[0] }) }
}

async function patch(spec: string, flags: PatchFlags, io: Io): Promise<void> {
  const { folder, result } = await readResult(spec)
  if (flags.clean) return patchClean(folder, result, flags, io)
  const look = flags.look === undefined ? undefined : await readLook(flags.look)
  const job = await openRepair(result, { look })
  try {
    await patchAll(folder, job, flags, io)
  } finally {
    job.close()
  }
}

/** Searched for, not picked: every frame of the plate has its own donor. */
async function patchClean(folder: string, result: Result, flags: PatchFlags, io: Io): Promise<void> {
  for (const [flag, given] of [
    ['--pick', flags.pick],
    ['--decisions', flags.decisions],
    ['--nudge', flags.nudge],
    ['--ratio', flags.ratio],
  ] as const)
    if (given !== undefined && given !== false) throw misuse('--clean', `no ${flag} beside it`, flag)
  const found = await findCleanPlate(result, { onProgress: io.progress.report, signal: io.signal })
  io.progress.clear()
  const job = await openRepair(found.result)
  try {
    await patchOne(folder, job, found.candidate, flags, io)
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
  for (const { message } of job.changed) io.say(`note: ${message}`)
  for (const candidate of await chosen(result, flags, io)) await patchOne(folder, job, candidate, flags, io)
}
