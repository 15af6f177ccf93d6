// offcut patch: the picked candidate as a sequence of patches, or as whole repaired frames.
import { join } from 'node:path'
import { type Command, Option } from 'commander'
import { misuse, OffcutError, printable } from '../../errors.js'
import { printFrames } from '../../footage/frames.js'
import { type Plate, readAlpha } from '../../footage/plate.js'
import { FADE_FRAMES, fadesOf } from '../../repair/lighting/fade.js'
import { checkStrength, MAX_STRENGTH, STRENGTH } from '../../repair/lighting/lighting-pass.js'
import { writeLighting } from '../../repair/lighting/write.js'
import { nudged } from '../../repair/nudge.js'
import { FEATHER_PX, openRepair, pick, type RepairJob } from '../../repair/repair.js'
import { PATCH_FORMATS, type PatchFormat, wholeEnding, writeCandidate } from '../../repair/write.js'
import { isName } from '../../search/hide/asked.js'
import { searchAgain } from '../../search/hide/search-again.js'
import type { Candidate, Result } from '../../search/result.js'
import { readResult } from '../../search/result-file.js'
import { readDecisions } from '../../sheet/data/decisions-file.js'
import type { Io } from '../io.js'
import { number, outFolder, overwriteOption, parseFade, parseOffset, wholeNumber } from '../options.js'
import { writeFolder } from '../output.js'

interface PatchFlags {
  pick?: string
  decisions?: string
  out?: string
  whole?: boolean
  ratio?: boolean
  strength?: number
  fade?: string
  feather?: number
  nudge?: string
  regrain: boolean
  format: PatchFormat
  overwrite?: boolean
}

export function addPatch(program: Command, io: Io): void {
  program
    .command('patch')
    .description('write the picked candidate as a patch sequence with alpha, or as whole repaired frames')
    .argument('<result>', 'the folder that offcut find wrote, or its result.json')
    .option(
      '--pick <candidate>',
      'the id of a candidate, as on the sheet, a folded alternative or any hold, run or mirror',
    )
    .option('--decisions <file>', 'what the sheet saved: every accepted candidate instead of --pick')
    .option(
      '--out <dir>',
      'where to write (default: a folder of the candidate in the result folder)',
      outFolder,
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
      `width over which the patch fades out beyond the mask, at most the surround's (default: ${FEATHER_PX})`,
      wholeNumber('--feather'),
    )
    .option(
      '--nudge <dx,dy>',
      'move the donor by hand, pixels right and down, beside the offset that was found',
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
    .addOption(overwriteOption())
    .action((spec: string, flags: PatchFlags) => patch(spec, flags, io))
}

async function patch(spec: string, flags: PatchFlags, io: Io): Promise<void> {
  const { folder, result } = await readResult(spec)
  const job = await openRepair(result)
  try {
    await patchAll(folder, job, flags, io)
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

/** The picked candidate, or all that the lead accepted. */
async function chosen(
  result: Result,
  { pick: id, decisions, out }: PatchFlags,
  io: Io,
): Promise<Candidate[]> {
  if ((id === undefined) === (decisions === undefined)) {
    const got = id === undefined ? 'neither' : 'both'
    throw misuse('--pick', 'the id of a candidate, or --decisions instead, one of the two', got)
  }
  if (id !== undefined) {
    const listed = result.candidates.some((c) => c.id === id)
    if (listed || result.aim !== 'hide' || !isName(id)) return [pick(result, id)]
    io.say(`note: ${printable(id)} is no row of the result: the search is run again for it`)
    const found = await searchAgain(result, id, { onProgress: io.progress.report, signal: io.signal })
    io.progress.clear()
    return [found]
  }
  const decided = await readDecisions(decisions!, result)
  const accepted = decided.decisions.filter((d) => d.decision === 'accept').map((d) => d.candidate)
  if (accepted.length === 0)
    throw misuse('--decisions', 'a file that accepts a candidate', `none in ${decisions}`)
  if (out !== undefined && accepted.length > 1) {
    throw misuse('--out', `one candidate at a time, and ${accepted.length} are accepted`, out)
  }
  return accepted.map((candidate) => pick(result, candidate))
}

/** Channels of a plate that its repaired frames do not have. */
async function notCarried(plate: Plate, target: number): Promise<string[]> {
  const others = [...(plate.info.otherChannels ?? [])]
  if (wholeEnding(plate) !== 'png') return others
  const alpha = await readAlpha(plate, target, { x: 0, y: 0, w: 1, h: 1 })
  return alpha?.associated ? [...others, 'its alpha, by which the colours are multiplied'] : others
}

async function patchOne(
  folder: string,
  job: RepairJob,
  picked: Candidate,
  flags: PatchFlags,
  io: Io,
): Promise<void> {
  const { result } = job
  const by = flags.nudge === undefined ? undefined : parseOffset(flags.nudge, '--nudge')
  const candidate = by === undefined ? picked : nudged(picked, by, job.target)
  const { surround } = result.region
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
  const kind = flags.whole ? (ratio ? 'borrowed' : 'repaired') : ratio ? 'ratio' : 'patch'
  const out = flags.out ?? join(folder, `${kind}-${candidate.id}`)
  const footage = [job.target.folder, ...job.donors.map((d) => d.folder)]
  let names: string[] = []
  const clipped = new Map<number, number>()
  await writeFolder(out, { overwrite: flags.overwrite === true, footage, note: io.say }, async (staging) => {
    const shared = {
      whole: flags.whole === true,
      featherPx,
      onProgress: io.progress.report,
      signal: io.signal,
    }
    names = ratio
      ? await writeLighting(job, candidate, staging, { ...shared, strength: flags.strength, fade })
      : await writeCandidate(job, candidate, staging, {
          ...shared,
          format: flags.format,
          addGrain: flags.regrain,
          onClipped: (frame, most) => clipped.set(frame, most),
        })
  })
  io.progress.clear()
  const what = flags.whole ? `${kind} frames` : ratio ? 'ratios' : 'patches'
  const moved = by === undefined ? '' : `, moved by hand by ${by.dx}, ${by.dy} px,`
  io.print(
    `${names.length} ${what} of ${candidate.id}${moved} in ${out}: ${names[0]} to ${names[names.length - 1]}`,
  )
  if (clipped.size > 0) {
    const most = Math.max(...clipped.values()).toFixed(2)
    const frames = `frame${clipped.size > 1 ? 's' : ''} ${printFrames([...clipped.keys()])}`
    io.say(
      `note: on ${frames} the patch is brighter than a 16-bit ${flags.format} can hold, up to ${most} times full, and is clipped there: --format exr keeps it`,
    )
  }
  const lost = flags.whole ? await notCarried(job.target, candidate.frames[0].target) : []
  if (lost.length > 0)
    io.say(
      `note: the repaired frames have the plate's picture, and not its other channels: ${lost.join(', ')}`,
    )
  const done = new Set([...candidate.frames.map((f) => f.target), ...(result.region.empty ?? [])])
  const left = result.target.frames.filter((f) => !done.has(f))
  if (left.length > 0)
    io.say(
      `note: ${candidate.id} fills no frame ${printFrames(left)}: nothing was written for ${left.length > 1 ? 'them' : 'it'}`,
    )
  if (candidate.verdict !== 'holds up') io.say(`note: ${candidate.id} ${candidate.verdict}: ${candidate.why}`)
}
