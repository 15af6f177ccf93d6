// One candidate onto disk, and what is said of it.
import { join } from 'node:path'
import { printFrames } from '../../footage/frames.js'
import { type Plate, readAlpha } from '../../footage/plate.js'
import type { RepairJob } from '../../repair/repair.js'
import { wholeEnding } from '../../repair/write.js'
import type { Candidate } from '../../search/result.js'
import { kindOf, writePatchFolder } from '../../sheet/patch-folder.js'
import { type Io, wrapWords } from '../io.js'
import { refuseFolder, writeFolder } from '../output.js'
import type { PatchFlags } from './flags.js'
import { checkWishes, type PatchSettings, settingsOf } from './settings.js'

/**
 * Refuses what can't be made or has nowhere to be written, before it is searched for.
 *
 * @param id of the candidate that there will be, which hides
 * @throws as settingsOf and writeFolder
 */
export async function refusePatch(
  folder: string,
  job: RepairJob,
  id: string,
  flags: PatchFlags,
  io: Io,
): Promise<void> {
  checkWishes(job, id, flags)
  const kind = kindOf({ whole: flags.whole === true, ratio: flags.ratio === true })
  await refuseFolder(outOf(folder, kind, id, flags), outputOf(job, flags, io))
}

function outOf(folder: string, kind: string, id: string, { out }: PatchFlags): string {
  return out ?? join(folder, `${kind}-${id}`)
}

function outputOf({ target, donors }: RepairJob, { overwrite = false }: PatchFlags, { say }: Io) {
  return { overwrite, footage: [target.folder, ...donors.map((d) => d.folder)], note: say }
}

/** @param folder of the result, in which a folder is made for the candidate unless another is asked for */
export async function patchOne(
  folder: string,
  job: RepairJob,
  picked: Candidate,
  flags: PatchFlags,
  io: Io,
): Promise<void> {
  const settings = settingsOf(job, picked, flags)
  const { candidate, by } = settings
  const kind = kindOf(settings)
  const out = outOf(folder, kind, candidate.id, flags)
  let names: string[] = []
  let warnings: string[] = []
  await writeFolder(out, outputOf(job, flags, io), async (staging) => {
    const patch = await writePatchFolder(staging, job, candidate, {
      ...settings,
      onProgress: io.progress.report,
      signal: io.signal,
    })
    names = patch.frames.map(({ file }) => file)
    warnings = patch.warnings
  })
  io.progress.clear()
  const what = settings.whole ? `${kind} frames` : settings.ratio ? 'ratios' : 'patches'
  const moved = by === undefined ? '' : `, moved by hand by ${by.dx}, ${by.dy} px,`
  const written = `${names.length} ${what} of ${candidate.id}${moved} in ${out}: ${names[0]} to ${names[names.length - 1]}`
  io.print(...wrapWords(written, io.columns).split('\n'))
  io.print(`check   ${join(out, 'check.html')}`)
  for (const warning of warnings) io.say(`warning: ${warning}`)
  await sayWhatIsMissing(job, settings, io)
  if (candidate.verdict !== 'holds up')
    io.say(`warning: ${candidate.id} ${candidate.verdict}: ${candidate.why}`)
}

/** Channels that whole frames do not have, and target frames that the candidate does not fill. */
async function sayWhatIsMissing(
  { result, target }: RepairJob,
  { candidate, whole }: PatchSettings,
  io: Io,
): Promise<void> {
  const lost = whole ? await notCarried(target, candidate.frames[0].target) : []
  if (lost.length > 0)
    io.say(
      `warning: the repaired frames have the plate's picture, and not its other channels: ${lost.join(', ')}`,
    )
  const done = new Set([...candidate.frames.map((f) => f.target), ...(result.region.empty ?? [])])
  const left = result.target.frames.filter((f) => !done.has(f))
  if (left.length > 0)
    io.say(
      `warning: ${candidate.id} fills no frame ${printFrames(left)}: nothing was written for ${left.length > 1 ? 'them' : 'it'}`,
    )
}

/** Channels of a plate that its repaired frames do not have. */
async function notCarried(plate: Plate, target: number): Promise<string[]> {
  const others = [...(plate.info.otherChannels ?? [])]
  if (wholeEnding(plate) !== 'png') return others
  const alpha = await readAlpha(plate, target, { x: 0, y: 0, w: 1, h: 1 })
  return alpha?.associated ? [...others, 'its alpha, by which the colours are multiplied'] : others
}
