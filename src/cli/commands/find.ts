// offcut find: search, rank, write the result folder and its sheet.

import { stat } from 'node:fs/promises'
import { join, resolve } from 'node:path'
import { type Command, Option } from 'commander'
import { readLook } from '../../colour/look/read-look.js'
import { misuse } from '../../errors.js'
import { printFrames } from '../../footage/frames.js'
import { MASK_FITS, type MaskFit } from '../../region/mask.js'
import { SURROUND_PX } from '../../region/region.js'
import { repairOf } from '../../repair/repair.js'
import { type BorrowOptions, borrow } from '../../search/borrow/borrow.js'
import { resultOf } from '../../search/events.js'
import { hide } from '../../search/hide/find.js'
import type { Result } from '../../search/result.js'
import { outcome } from '../../sheet/data/words.js'
import { writeResultFolder } from '../../sheet/result-folder.js'
import { openShot } from '../../shot/open-shot.js'
import { KEEP, REACH_PX } from '../../shot/validate.js'
import { type Io, printJson } from '../io.js'
import {
  collect,
  encodingOption,
  layerOption,
  lookOption,
  outFolder,
  overwriteOption,
  parseBox,
  parseOffset,
  wholeNumber,
} from '../options.js'
import { writeFolder } from '../output.js'
import { candidateTable, table, worthPatching } from '../table.js'

interface FindFlags {
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
  aim: Result['aim']
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

export function addFind(program: Command, io: Io): void {
  program
    .command('find')
    .description(
      'search donor frames for the masked region, rank them, write the result folder and its sheet',
    )
    .argument('<plate>', 'a folder, one of its frames, a pattern such as plate.####.exr, or a movie')
    .option(
      '--mask <mask>',
      'white where pixels are to be replaced: a still, a sequence, an SVG in plate pixels',
    )
    .option('--box <x,y,w,h>', 'a box in plate pixels instead of a mask')
    .addOption(
      new Option(
        '--mask-fit <how>',
        'a mask of another size than the plate is refused (same), centred or scaled',
      )
        .choices(MASK_FITS)
        .default('same'),
    )
    .option(
      '--mask-at <frame>',
      'frame on which the mask or box was drawn: where the camera moves it stays on the scenery',
      wholeNumber('--mask-at'),
    )
    .option(
      '--avoid <masks>',
      'white on what of the target plate must not be looked at or lent, such as actors: a sequence, or a still for all frames',
    )
    .option('--grow <px>', 'grow the mask or box by a disk; below 0 shrink it', wholeNumber('--grow'))
    // Asked for below: commander would tell of a missing option before it tells of a misspelt one.
    .option('--frames <frames>', 'target frames: 1001-1024, 1001,1005 or 1001-1100:2; always needed')
    .option('--donor <plate>', 'another plate to look in, beside the target; may be repeated', collect)
    .option('--donor-frames <frames>', 'only these frames may lend; all are read, to know the footage by')
    .option('--not-frames <frames>', 'these frames may not lend')
    .option(
      '--try <candidate>',
      'list this one too, whatever comes of it: hold-1215, run+46, mirror-2251; may be repeated',
      collect,
    )
    .option(
      '--reach <px>',
      `largest 2D offset looked for beyond the camera's own motion, at most half the plate's shorter side (default: ${REACH_PX}); anywhere: also other places of the target's frames that look alike`,
      (value: string) => (value === 'anywhere' ? value : wholeNumber('--reach')(value)),
    )
    .option(
      '--surround <px>',
      `width of the ring round the mask on which donors are judged (default: ${SURROUND_PX})`,
      wholeNumber('--surround'),
    )
    .addOption(encodingOption())
    .addOption(layerOption())
    .addOption(lookOption())
    .option('--keep <n>', 'candidates to keep', wholeNumber('--keep'), KEEP)
    .addOption(
      new Option(
        '--aim <aim>',
        'hide: cover what is in the region; borrow: bring a shadow or reflection into it',
      )
        .choices(['hide', 'borrow'])
        .default('hide'),
    )
    .option(
      '--peak <frame>',
      'borrow: target frame on which the change is strongest (default: the middle)',
      wholeNumber('--peak'),
    )
    .option('--darker', 'borrow: only shadows')
    .option('--brighter', 'borrow: only reflections and the like')
    .option('--like <frame>', 'borrow: a donor frame that shows what is wanted', wholeNumber('--like'))
    .option('--look-in <mask or x,y,w,h>', 'borrow: hunt on this surface instead of the region')
    .option('--offset <dx,dy>', 'borrow: 2D offset that moves what is found onto the region')
    .option('--out <dir>', 'result folder (default: offcut-<plate>-<frames> here)', outFolder)
    .option(
      '--json',
      'print the result as JSON; what goes wrong, too, as { error: { code, message, exitCode } }',
    )
    .addOption(overwriteOption())
    .action((plate: string, flags: FindFlags) => find(plate, flags, io))
}

async function find(spec: string, flags: FindFlags, io: Io): Promise<void> {
  const { frames } = flags
  if (flags.mask === '') throw misuse('--mask', 'a mask file or sequence', flags.mask)
  if (frames === undefined) throw misuse('--frames', 'target frames such as 1001-1024', 'none')
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
    const options = { keep: flags.keep, signal: io.signal }
    const events =
      wanted === null ? hide(shot, { ...options, tries: flags.try }) : borrow(shot, { ...options, ...wanted })
    const found = await resultOf(events, io.progress.report)
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
  for (const warning of result.warnings) io.say(`note: ${warning}`)
  const { frames: asked, encoding, encodingWhy } = result.target
  const head = [plate.name, `frames ${printFrames(asked)}`, `${encoding} (${encodingWhy})`]
  io.print(...table([head], io.columns))
  io.print(outcome(result))
  io.print(...candidateTable(result, io.columns))
  io.print(`sheet   ${join(out, 'sheet.html')}, sheet.png`)
  const best = worthPatching(result)
  if (best !== undefined) io.print(`patch   offcut patch ${out} --pick ${best.id}`)
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
