// Candidates of several results over one plate, onto disk as one sequence.
import { join, resolve } from 'node:path'
import { readLook } from '../../colour/look/read-look.js'
import { misuse, OffcutError } from '../../errors.js'
import type { Patch } from '../../repair/hand-over/patch.js'
import { openRepair, pick, type RepairJob } from '../../repair/repair.js'
import type { Layer } from '../../repair/several.js'
import { readResult, type StoredResult } from '../../search/result-file.js'
import { kindOf } from '../../sheet/patch-folder.js'
import { writeSeveralFolder } from '../../sheet/several-folder.js'
import type { Io } from '../io.js'
import { writeFolder } from '../output.js'
import type { GivenFlags } from './flags.js'
import { settingsOf } from './settings.js'

type Flags = Omit<GivenFlags, 'pick'>

/** @param picks a candidate of each result, in their order */
export async function patchSeveral(
  specs: readonly string[],
  picks: readonly string[],
  flags: Flags,
  io: Io,
): Promise<void> {
  refuseOthers(flags)
  if (picks.length !== specs.length)
    throw misuse(
      '--pick',
      `one for each of the ${specs.length} results, in their order`,
      picks.join(', ') || 'none',
    )
  const stored: StoredResult[] = []
  for (const spec of specs) stored.push(await readResult(spec))
  refuseTwins(stored, picks)
  checkOnePlate(stored)
  const look = flags.look === undefined ? undefined : await readLook(flags.look)
  const jobs: RepairJob[] = []
  try {
    for (const { result } of stored) jobs.push(await openRepair(result, { look }))
    const layers = jobs.map((job, i): Layer => ({ job, candidate: pick(job.result, picks[i]!) }))
    const borrowed = layers.find(({ candidate }) => candidate.moment !== undefined)
    if (borrowed)
      throw misuse(
        '--pick',
        'candidates that hide: a lift is multiplied, not laid over',
        borrowed.candidate.id,
      )
    for (const job of jobs) for (const { message } of job.changed) io.say(`warning: ${message}`)
    await write(stored[0]!.folder, layers, flags, io)
  } finally {
    for (const job of jobs) job.close()
  }
}

function refuseOthers(flags: Flags): void {
  for (const [flag, given] of [
    ['--decisions', flags.decisions],
    ['--clean', flags.clean],
    ['--nudge', flags.nudge],
    ['--ratio', flags.ratio],
    ['--strength', flags.strength],
    ['--fade', flags.fade],
  ] as const)
    if (given !== undefined && given !== false) throw misuse(flag, 'one result at a time', 'several results')
}

/** A patch over itself is the same patch with a harder edge. */
function refuseTwins(stored: readonly StoredResult[], picks: readonly string[]): void {
  const given = stored.map(({ folder }, i) => `${picks[i]} of ${resolve(folder)}`)
  const twin = given.findIndex((one, i) => given.indexOf(one) !== i)
  if (twin < 0) return
  const wanted = `each candidate of a result once, as a patch is not laid over itself`
  throw misuse('--pick', wanted, `${picks[twin]} of ${stored[twin]!.folder} twice`)
}

function checkOnePlate(stored: readonly StoredResult[]): void {
  const [first, ...others] = stored.map(({ result: { target } }) => target)
  for (const { plate, encoding } of others) {
    if (plate !== first!.plate)
      throw new OffcutError(
        'PLATES_DIFFER',
        `${plate} is another plate than ${first!.plate}: patches over two plates are written one by one`,
        2,
      )
    if (encoding !== first!.encoding)
      throw new OffcutError(
        'PLATES_DIFFER',
        `${plate} was searched as ${first!.encoding} and as ${encoding}: search again with one --encoding`,
        2,
      )
  }
}

async function write(folder: string, layers: readonly Layer[], flags: Flags, io: Io): Promise<void> {
  const settings = layers.map((layer) => settingsOf(layer.job, layer.candidate, flags))
  const [{ whole, featherPx, featherSide, membrane, addGrain, format }] = settings as [(typeof settings)[0]]
  const kind = kindOf({ whole, ratio: false })
  const ids = layers.map(({ candidate }) => candidate.id)
  const out = flags.out ?? join(folder, `${kind}-${ids.join('-and-')}`)
  const footage = layers.flatMap((of) => [of.job.target.folder, ...of.job.donors.map((d) => d.folder)])
  let joint: Patch | undefined
  await writeFolder(out, { overwrite: flags.overwrite === true, footage, note: io.say }, async (staging) => {
    const options = { whole, featherPx, featherSide, membrane, addGrain, format }
    const progress = { onProgress: io.progress.report, signal: io.signal }
    joint = (await writeSeveralFolder(staging, layers, { ...options, ...progress })).joint
  })
  io.progress.clear()
  const { frames, warnings } = joint!
  const what = whole ? 'repaired frames' : 'patches'
  io.print(
    `${frames.length} ${what} of ${ids.join(' and ')} in ${out}: ${frames[0]!.file} to ${frames.at(-1)!.file}`,
  )
  io.print(`check   ${join(out, 'check.html')}`)
  for (const warning of warnings) io.say(`warning: ${warning}`)
  for (const { candidate } of layers)
    if (candidate.verdict !== 'holds up')
      io.say(`warning: ${candidate.id} ${candidate.verdict}: ${candidate.why}`)
}
