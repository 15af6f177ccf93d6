// offcut find: search, rank, write the result folder and its sheet.

import { stat } from 'node:fs/promises'
import { join, resolve } from 'node:path'
import { readLook } from '../../colour/look/read-look.js'
import type { MaskFit } from '../../defaults.js'
import { misuse, OffcutError } from '../../errors.js'
import { framesInWords } from '../../footage/frames.js'
import { repairOf } from '../../repair/repair.js'
import { type BorrowOptions, borrow } from '../../search/borrow/borrow.js'
import { resultOf } from '../../search/events.js'
import { hide } from '../../search/hide/find.js'
import type { Result } from '../../search/result.js'
import { toldOf } from '../../search/told.js'
import { outcome } from '../../sheet/data/words.js'
import { writeResultFolder } from '../../sheet/result-folder.js'
import { shellWord } from '../../shell-word.js'
import { openShot } from '../../shot/open-shot.js'
import { type Io, printJson } from '../io.js'
import { parseBox, parseOffset } from '../options.js'
import { writeFolder } from '../output.js'
import { candidateTable, table, worthPatching } from '../table.js'

export interface FindFlags {
  mask?: string
  box?: string
  maskFit: MaskFit
  grow?: number
  maskAt?: number
  avoid?: string
  frames?: string
  donor?: string[]
  donorFrames?: string
  notFrames?: string
  try?: string[]
  reach?: number | 'anywhere'
  surround?: number
  encoding: string
  layer?: string
  look?: string
  keep: number
  aim: 'hide' | 'borrow'
  peak?: number
  darker?: boolean
  brighter?: boolean
  like?: number
  lookIn?: string
  offset?: string
  out?: string
  json?: boolean
  overwrite?: boolean
}

/** @throws MISUSE, and as openShot, hide, borrow and writeResultFolder */
export async function find(spec: string, flags: FindFlags, io: Io): Promise<void> {
  const { frames } = flags
  if (flags.mask === '') throw misuse('--mask', 'a mask file or sequence', flags.mask)
  if (frames === undefined) throw lacking(flags)
  const wanted = borrowOptions(flags)
  const mask = flags.mask === undefined ? undefined : resolve(flags.mask)
  const look = flags.look === undefined ? undefined : await readLook(flags.look)
  const shot = await openShot({
    target: spec,
    frames,
    mask,
    box: flags.box === undefined ? undefined : parseBox(flags.box),
    maskFit: flags.maskFit,
    grow: flags.grow,
    maskAt: flags.maskAt,
    avoid: flags.avoid === undefined ? undefined : resolve(flags.avoid),
    donors: flags.donor,
    donorFrames: flags.donorFrames,
    notFrames: flags.notFrames,
    reach: flags.reach,
    surround: flags.surround,
    encoding: flags.encoding,
    layer: flags.layer,
  })
  const [plate] = shot.plates
  const out = flags.out ?? `offcut-${plate.stem}-${frames.replace(/[^\d-]+/g, '_')}`
  const footage = [
    ...shot.plates.map(({ folder }) => folder),
    ...(await foldersOf(mask)),
    ...(await foldersOf(flags.avoid)),
  ]
  let result: Result | undefined
  await writeFolder(out, { overwrite: flags.overwrite === true, footage, note: io.say }, async (staging) => {
    const { tell } = io
    const options = { keep: flags.keep, anytime: tell !== undefined, signal: io.signal }
    const events =
      wanted === null ? hide(shot, { ...options, tries: flags.try }) : borrow(shot, { ...options, ...wanted })
    const found = await resultOf(events, io.progress.report, (event) => {
      if (tell !== undefined) for (const told of toldOf(event)) tell(told)
    })
    result = look === undefined ? found : { ...found, look: look.path }
    const job = repairOf(shot, result, { look })
    try {
      await writeResultFolder(staging, job, { onProgress: io.progress.report, signal: io.signal })
    } finally {
      job.close()
    }
  })
  io.progress.clear()
  if (result === undefined) throw misuse('find', 'a result', 'nothing')
  if (flags.json === true) {
    printJson(io, result)
    return
  }
  for (const warning of result.warnings) io.say(`warning: ${warning}`)
  const { frames: asked, encoding, encodingWhy } = result.target
  const head = [plate.name, framesInWords(asked), `${encoding} (${encodingWhy})`]
  io.print(...table([head], io.columns))
  io.print(outcome(result))
  io.print(...candidateTable(result, io.columns))
  io.print(`sheet   ${join(out, 'sheet.html')}, sheet.png`)
  const best = worthPatching(result)
  if (best !== undefined) io.print(`patch   offcut patch ${shellWord(out)} --pick ${best.id}`)
}

/** All that is lacking at once, so that nobody is told of one option after the other. */
function lacking({ mask, box }: FindFlags): OffcutError {
  const region = mask === undefined && box === undefined
  const [what, add] = region
    ? ['the region and the target frames', '--mask <mask> or --box <x,y,w,h>, and --frames']
    : ['the target frames', '--frames']
  return new OffcutError('MISUSE', `find needs ${what}: add ${add}, such as --frames 1001-1024`, 2)
}

type BorrowFlags = Pick<BorrowOptions, 'peak' | 'sign' | 'like' | 'lookIn' | 'offset'>

/** What only a borrow takes; null for the aim hide. @throws MISUSE where the two are mixed */
function borrowOptions(flags: FindFlags): BorrowFlags | null {
  const { aim, peak, darker, brighter, like, lookIn, offset } = flags
  if (aim === 'hide') {
    for (const [flag, value] of Object.entries({ peak, darker, brighter, like, 'look-in': lookIn, offset }))
      if (value !== undefined) throw misuse(`--${flag}`, 'effect with --aim borrow only', '--aim hide')
    return null
  }
  if (flags.try !== undefined) throw misuse('--try', 'effect with --aim hide only', '--aim borrow')
  if (flags.reach === 'anywhere')
    throw misuse('--reach anywhere', 'effect with --aim hide only', '--aim borrow')
  if (darker === true && brighter === true) throw misuse('--darker', 'no --brighter beside it', 'both')
  return {
    peak,
    sign: darker === true ? 'darker' : brighter === true ? 'brighter' : undefined,
    like,
    lookIn:
      lookIn === undefined
        ? undefined
        : /^[-\d\s.,]+$/.test(lookIn)
          ? parseBox(lookIn, '--look-in')
          : resolve(lookIn),
    offset: offset === undefined ? undefined : parseOffset(offset),
  }
}

/** The folder that must not be written to because a mask lies there; none for a mask in a folder of its own name. */
async function foldersOf(mask: string | undefined): Promise<string[]> {
  if (mask === undefined) return []
  const found = await stat(mask).catch(() => null)
  return found?.isDirectory() ? [mask] : []
}
