// offcut sheet: its options. What it does is loaded when it is asked for.
import type { Command } from 'commander'
import type { Io } from '../io.js'
import { lookOption } from '../options.js'

export interface SheetFlags {
  decisions?: string
  pdf?: boolean
  look?: string
}

export function addSheet(program: Command, io: Io): void {
  program
    .command('sheet')
    .description('write the sheet of a result again')
    .argument('<result>', 'the folder that offcut find wrote, or its result.json')
    .option('--decisions <file>', 'open the sheet with these decisions')
    .option('--pdf', 'print it too, a page per accepted candidate; takes a Chromium')
    .addOption(lookOption())
    .action(async (spec: string, flags: SheetFlags) =>
      (await import('../actions/sheet.js')).sheet(spec, flags, io),
    )
}
