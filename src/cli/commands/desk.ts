// offcut desk: its options. What it does is loaded when it is asked for.
import type { Command } from 'commander'
import { misuse } from '../../errors.js'
import type { DeskFlags } from '../actions/desk.js'
import type { Io } from '../io.js'
import { outFolder } from '../options.js'

export function addDesk(program: Command, io: Io): void {
  program
    .command('desk')
    .description('open a local page: draw the region, watch the ranking come in, choose, patch')
    .argument('[plate...]', 'plates to begin with, each as for find')
    .option(
      '--out <dir>',
      'folder that holds the shots and all that is made for them',
      outFolder,
      'offcut-desk',
    )
    .option('--port <number>', 'port to listen on (default: one that is free)', portNumber)
    .option('--no-open', 'only print the address')
    .action(async (plates: string[], flags: DeskFlags) =>
      (await import('../actions/desk.js')).desk(plates, flags, io),
    )
}

function portNumber(text: string): number {
  const port = Number(text)
  if (!/^\d+$/.test(text) || port < 1 || port > 65535)
    throw misuse('--port', 'a number from 1 to 65535', text)
  return port
}
