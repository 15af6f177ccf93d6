// offcut patch: its options. What it does is loaded when it is asked for.
import type { Command } from 'commander'
import {
  FADE_FRAMES,
  FEATHER_PX,
  FEATHER_SIDES,
  MAX_STRENGTH,
  PATCH_FORMATS,
  STRENGTH,
} from '../../defaults.js'
import type { Io } from '../io.js'
import { lookOption, number, oneOf, outFolder, overwriteOption, wholeNumber } from '../options.js'
import type { GivenFlags } from '../patch/flags.js'

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
      oneOf('--feather-side <side>', "where from the mask's edge it fades out", FEATHER_SIDES).default(
        'outside',
      ),
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
      oneOf(
        '--format <name>',
        'of the patch: half-float EXR, if nothing is said, or 16-bit PNG or TIFF in the plate’s encoding',
        PATCH_FORMATS,
      ),
    )
    .addOption(lookOption())
    .addOption(overwriteOption())
    .action(async (specs: string[], flags: GivenFlags) =>
      (await import('../actions/patch.js')).patch(specs, flags, io),
    )
}
