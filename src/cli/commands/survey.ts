// offcut survey: its options. What it does is loaded when it is asked for.
import type { Command } from 'commander'
import type { SurveyFlags } from '../actions/survey.js'
import type { Io } from '../io.js'
import { encodingOption, layerOption } from '../options.js'

export function addSurvey(program: Command, io: Io): void {
  program
    .command('survey')
    .description('say what this footage is: frames, gaps, repeats, size, encoding, grain, light, camera')
    .argument('<plate>', 'a folder, one of its frames, a pattern such as plate.####.exr, or a movie')
    .addOption(encodingOption())
    .addOption(layerOption())
    .option(
      '--json',
      'print the findings as JSON, with every frame; what goes wrong, too, as { error: { code, message, exitCode } }',
    )
    .action(async (plate: string, flags: SurveyFlags) =>
      (await import('../actions/survey.js')).survey(plate, flags, io),
    )
}
