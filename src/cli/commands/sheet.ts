// offcut sheet: its options. What it does is loaded when it is asked for.
import type { Command } from 'commander'
import type { SheetFlags } from '../actions/sheet.js'
import type { Io } from '../io.js'
import { lookOption } from '../options.js'

export function addSheet(program: Command, io: Io): void {
  program
    .command('sheet')
    .description('write the sheet of a result again, or one page over the sheets of several')
    .argument('<results...>', 'folders that offcut find wrote, or their result.json')
    .option(
      '--index',
      'write index.html into the folder that the results share: what each shot is, its first candidate, what is decided, and the way to its sheet',
    )
    .option('--decisions <file>', 'open the sheet with these decisions')
    .option('--pdf', 'print it too, a page per accepted candidate; takes a Chromium')
    .addOption(lookOption())
    .action(async (specs: string[], flags: SheetFlags) =>
      (await import('../actions/sheet.js')).sheet(specs, flags, io),
    )
}
