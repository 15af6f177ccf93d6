// The command line: what each command is called, and what an error looks like.
import { Command, CommanderError } from 'commander'
import { OffcutError, outOfMemory } from '../errors.js'
import { version } from '../version.js'
import { addDemo } from './commands/demo.js'
import { addDesk } from './commands/desk.js'
import { addFind } from './commands/find.js'
import { addPatch } from './commands/patch.js'
import { addSheet } from './commands/sheet.js'
import { addSurvey } from './commands/survey.js'
import { runLean } from './engine.js'
import { type Io, loadWrappingFor, printJson, streamIo } from './io.js'
import { type Channel, parentOf } from './parent.js'

/**
 * Runs one command.
 *
 * @param argv    what follows `offcut` on the command line
 * @param channel to the program that started this one, if there is such: see src/search/told.ts
 * @returns the exit code: 0 done, 1 failed while running, 2 misused
 */
export async function run(argv: readonly string[], channel?: Channel): Promise<number> {
  runLean()
  const stop = new AbortController()
  const interrupt = () =>
    stop.abort(new OffcutError('INTERRUPTED', 'interrupted: nothing is left half written', 1))
  for (const signal of STOPS) process.once(signal, interrupt)
  // Its reader has gone (`| head`), or its disk is full: the run ends as by Ctrl-C, and takes away what it began.
  const lost = (cause: NodeJS.ErrnoException) =>
    stop.abort(
      new OffcutError('PRINT_FAILED', `what is printed can't be written (${cause.code})`, 1, { cause }),
    )
  for (const stream of [process.stdout, process.stderr]) stream.on('error', lost)
  // Started by a desk that has gone, however that ended: nobody waits for what would come.
  const parent = channel === undefined ? null : parentOf(channel, interrupt)
  const io = streamIo(process.stdout, process.stderr, stop.signal, parent?.tell)
  const made = program(io)
  const commands = made.commands.map((command) => command.name())
  try {
    await made.parseAsync(argv, { from: 'user' })
    // A stream says what became of the last write only after it.
    await new Promise(setImmediate)
    if (!io.endsInterrupted) stop.signal.throwIfAborted()
    return 0
  } catch (error) {
    io.progress.clear()
    // Help was asked for, and has been shown.
    if (!(error instanceof CommanderError && error.exitCode === 0)) await loadWrappingFor(process.stderr)
    await new Promise(setImmediate)
    return report(stop.signal.aborted && !io.endsInterrupted ? stop.signal.reason : error, argv, commands, io)
  } finally {
    await new Promise(setImmediate)
    for (const stream of [process.stdout, process.stderr]) stream.off('error', lost)
    for (const signal of STOPS) process.off(signal, interrupt)
    await parent?.close()
  }
}

/** Options that the library calls otherwise than the command line. */
const FLAGS: Readonly<Record<string, string>> = { donors: 'donor', featherPx: 'feather', tries: 'try' }

/** A message of the library in the command line's words: `donorFrames` is --donor-frames. */
function inFlags(message: string): string {
  return message.replace(/`([a-z][A-Za-z]*)`/g, (_, name: string) => {
    const flag = FLAGS[name] ?? name.replace(/[A-Z]/g, (c) => `-${c.toLowerCase()}`)
    return `--${flag}`
  })
}

/** Ctrl-C, kill, and a terminal that is closed. */
const STOPS = ['SIGINT', 'SIGTERM', 'SIGHUP'] as const

function program(io: Io): Command {
  const made = new Command('offcut')
    .description(
      'Finds pixels worth reusing: which other frames of a plate can lend a region, and makes the patch.',
    )
    .version(version(), '--version')
    .option('--debug', 'show where an error came from')
    .exitOverride()
    .configureOutput(output(io))
    .configureHelp(NARROW)
    .hook('preAction', () => loadWrappingFor(process.stdout, process.stderr))
  addSurvey(made, io)
  addFind(made, io)
  addPatch(made, io)
  addSheet(made, io)
  addDesk(made, io)
  addDemo(made, io)
  made.addHelpText('after', FIRST_STEPS)
  for (const command of made.commands) {
    command.exitOverride().option('--debug', 'show where an error came from')
    command.configureOutput(output(io)).configureHelp(NARROW)
  }
  return made
}

const FIRST_STEPS = `
To begin with:
  offcut desk plates/quay                 all of it on a page, step by step
  offcut find plates/quay --mask masks/porter --frames 1060-1069 --out result
  offcut patch result --pick <candidate>  as find and the sheet name it`

/** Commander leaves text unbroken in less than 40 columns, and a terminal of 60 leaves it less beside the options. */
const NARROW = { minWidthToWrap: 16 }

/** Help is commander's; its errors are told by report, like all others. */
function output(io: Io) {
  return {
    writeOut: (text: string) => io.print(...text.trimEnd().split('\n')),
    writeErr: (text: string) => io.say(...text.trimEnd().split('\n')),
    outputError: () => {},
  }
}

interface Failure {
  readonly code: string
  readonly message: string
  readonly exitCode: 1 | 2
}

function report(error: unknown, argv: readonly string[], commands: readonly string[], io: Io): number {
  if (error instanceof CommanderError) {
    if (error.exitCode === 0) return 0
    // A bare `offcut`: its help has been shown.
    if (error.code === 'commander.help') return 2
  }
  const failure = failureOf(error, argv, commands)
  // Who reads no further has what was wanted: that is nothing to be told of.
  if (hasGone(error) && !argv.includes('--debug')) return failure.exitCode
  // What a program reads has an answer in every case: the result or, in its place, what went wrong.
  if (argv.includes('--json')) printJson(io, { error: failure })
  io.say(`offcut: ${failure.message}`)
  io.tell?.({ kind: 'failed', error: { code: failure.code, message: failure.message } })
  if (argv.includes('--debug') && error instanceof Error) {
    const cause = error.cause === undefined ? [] : [`caused by ${String(error.cause)}`]
    io.say(...String(error.stack).split('\n'), ...cause)
  }
  return failure.exitCode
}

/** Has whoever read what is printed gone? */
function hasGone(error: unknown): boolean {
  if (!(error instanceof OffcutError) || error.code !== 'PRINT_FAILED') return false
  return error.cause instanceof Error && 'code' in error.cause && error.cause.code === 'EPIPE'
}

/** Where what was misspelt is listed. */
function helpFor([command = '']: readonly string[], commands: readonly string[]): string {
  return commands.includes(command)
    ? `offcut ${command} --help lists its options`
    : 'offcut --help lists the commands, offcut <command> --help its options'
}

function failureOf(thrown: unknown, argv: readonly string[], commands: readonly string[]): Failure {
  const error = outOfMemory(thrown) ?? thrown
  if (error instanceof OffcutError) {
    const { code, message, exitCode } = error
    return { code, message: inFlags(message), exitCode }
  }
  if (error instanceof CommanderError) {
    const message = error.message
      .replace(/^error: /, '')
      .replace(/\s*\(Did you mean (.*)\?\)$/s, '; did you mean $1?')
    return {
      code: 'MISUSE',
      message: `${message} (${helpFor(argv, commands)})`,
      exitCode: 2,
    }
  }
  const text = error instanceof Error ? error.message : String(error)
  return {
    code: 'UNEXPECTED',
    message: `something went wrong that should not have: ${text} (--debug shows where)`,
    exitCode: 1,
  }
}
