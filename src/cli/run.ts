// The command line: what each command is called, and what an error looks like.
import { readFileSync } from 'node:fs'
import { Command, CommanderError } from 'commander'
import { OffcutError, printable } from '../errors.js'
import { progressBar } from './bar.js'
import { addDemo } from './commands/demo.js'
import { addFind } from './commands/find.js'
import { addPatch } from './commands/patch.js'
import { addSheet } from './commands/sheet.js'
import { addSurvey } from './commands/survey.js'
import type { Io } from './io.js'

/**
 * Runs one command.
 *
 * @param argv what follows `offcut` on the command line
 * @returns the exit code: 0 done, 1 failed while running, 2 misused
 */
export async function run(argv: readonly string[]): Promise<number> {
  const stop = new AbortController()
  const interrupt = () => stop.abort(new OffcutError('INTERRUPTED', 'interrupted: nothing was written', 1))
  process.once('SIGINT', interrupt)
  process.once('SIGTERM', interrupt)
  const io: Io = {
    print: (text) => process.stdout.write(`${text}\n`),
    say: (text) => process.stderr.write(`${text}\n`),
    progress: progressBar(process.stderr),
    signal: stop.signal,
  }
  try {
    await program(io).parseAsync(argv, { from: 'user' })
    return 0
  } catch (error) {
    io.progress.clear()
    return report(error, argv.includes('--debug'), io)
  } finally {
    process.off('SIGINT', interrupt)
    process.off('SIGTERM', interrupt)
  }
}

function program(io: Io): Command {
  const made = new Command('offcut')
    .description(
      'Finds pixels worth reusing: which other frames of a plate can lend a region, and makes the patch.',
    )
    .version(version(), '--version')
    .option('--debug', 'show where an error came from')
    .showHelpAfterError('(offcut --help lists the commands, offcut <command> --help its options)')
    .exitOverride()
    .configureOutput({
      writeOut: (text) => io.print(text.trimEnd()),
      writeErr: (text) => io.say(text.trimEnd()),
    })
  addSurvey(made, io)
  addFind(made, io)
  addPatch(made, io)
  addSheet(made, io)
  addDemo(made, io)
  for (const command of made.commands) {
    command.exitOverride().option('--debug', 'show where an error came from')
    command.configureOutput({
      writeOut: (text) => io.print(text.trimEnd()),
      writeErr: (text) => io.say(text.trimEnd()),
    })
  }
  return made
}

function report(error: unknown, debug: boolean, io: Io): number {
  if (error instanceof CommanderError) return error.exitCode === 0 ? 0 : 2
  if (error instanceof OffcutError) {
    io.say(`offcut: ${error.message}`)
    if (debug)
      io.say(String(error.stack) + (error.cause === undefined ? '' : `\ncaused by ${String(error.cause)}`))
    return error.exitCode
  }
  const text = error instanceof Error ? error.message : String(error)
  io.say(`offcut: something went wrong that should not have: ${printable(text)} (--debug shows where)`)
  if (debug && error instanceof Error) io.say(String(error.stack))
  return 1
}

function version(): string {
  const text = readFileSync(new URL('../../package.json', import.meta.url), 'utf8')
  return (JSON.parse(text) as { version: string }).version
}
