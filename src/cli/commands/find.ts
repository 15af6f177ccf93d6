// offcut find: its options. What it does is loaded when it is asked for.

import type { Command } from 'commander'
import { KEEP, MASK_FITS, REACH_PX, SURROUND_PX } from '../../defaults.js'
import type { FindFlags } from '../actions/find.js'
import type { Io } from '../io.js'
import {
  collect,
  encodingOption,
  layerOption,
  lookOption,
  oneOf,
  outFolder,
  overwriteOption,
  wholeNumber,
} from '../options.js'

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
      oneOf(
        '--mask-fit <how>',
        'a mask of another size than the plate is refused (same), centred or scaled',
        MASK_FITS,
      ).default('same'),
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
      (value: string) =>
        value === 'anywhere' ? value : wholeNumber('--reach', 'a whole number or anywhere')(value),
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
      oneOf(
        '--aim <aim>',
        'hide: cover what is in the region; borrow: bring a shadow or reflection into it',
        ['hide', 'borrow'],
      ).default('hide'),
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
    .action(async (plate: string, flags: FindFlags) =>
      (await import('../actions/find.js')).find(plate, flags, io),
    )
}
