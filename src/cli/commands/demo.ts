// offcut demo: its options. What it does is loaded when it is asked for.
import type { Command } from 'commander'
import type { DemoFlags } from '../actions/demo.js'
import type { Io } from '../io.js'
import { outFolder, overwriteOption } from '../options.js'

export function addDemo(program: Command, io: Io): void {
  program
    .command('demo')
    .description(
      'make the quayside footage, hide the porter who crosses it, borrow the heron’s shadow and a reflection, hide a shopper where no frame is empty, and the porter under a camera that pans',
    )
    .option('--out <dir>', 'where to write', outFolder, 'offcut-demo')
    .addOption(overwriteOption())
    .action(async (flags: DemoFlags) => (await import('../actions/demo.js')).demo(flags, io))
}
