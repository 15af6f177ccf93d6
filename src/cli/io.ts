// What a command may do to the outside: print, say, show progress, and be interrupted.
import type stringWidth from 'string-width'
import type wrapAnsi from 'wrap-ansi'
import { printable } from '../errors.js'
import type { Progress } from '../progress.js'
import type { Told } from '../search/told.js'
import { type ProgressBar, progressBar, type Terminal } from './bar.js'

export interface Io {
  /** Lines of a result, on stdout. */
  print(...lines: string[]): void
  /** Remarks, on stderr; on a terminal broken between words. */
  say(...lines: string[]): void
  /** Width that a result's text may take; infinite where stdout is no terminal. */
  readonly columns: number
  readonly progress: ProgressBar
  readonly signal: AbortSignal
  /** For a command that runs until it is interrupted: then that is no failure. */
  untilInterrupted(): Promise<void>
  /** Whether a command runs, or ran, until it is interrupted. */
  readonly endsInterrupted: boolean
  /** Tells the program that started the command; absent where none listens. Progress is told by itself. */
  readonly tell?: (told: Told) => void
}

/**
 * The two streams as a command sees them. All text for a person or a program goes out here and nowhere else, so that
 * no file's name or note can write on the terminal by itself: whatever controls a line has are made visible.
 */
export function streamIo(
  stdout: Terminal,
  stderr: Terminal,
  signal: AbortSignal,
  tell?: (told: Told) => void,
): Io {
  const width = columnsOf(stderr)
  let endsInterrupted = false
  const bar = progressBar(stderr)
  const report = (progress: Progress) => {
    bar.report(progress)
    tell?.({ kind: 'progress', ...progress })
  }
  return {
    print: (...lines) => void stdout.write(lines.map((line) => `${printable(line)}\n`).join('')),
    say: (...lines) => void stderr.write(lines.map((line) => `${remark(printable(line), width)}\n`).join('')),
    columns: columnsOf(stdout),
    progress: { ...bar, report },
    signal,
    untilInterrupted: () => {
      endsInterrupted = true
      return new Promise((resolve) => {
        if (signal.aborted) resolve()
        signal.addEventListener('abort', () => resolve(), { once: true })
      })
    },
    get endsInterrupted() {
      return endsInterrupted
    },
    ...(tell === undefined ? {} : { tell }),
  }
}

/**
 * Indented JSON. A control character inside a string is written as JSON's own escape for it, so that what a program
 * parses is what was meant.
 */
export function printJson(io: Io, value: unknown): void {
  io.print(...JSON.stringify(value, null, 2).split('\n'))
}

/** An indented line, such as one of a stack, is laid out already. */
function remark(line: string, columns: number): string {
  return /^\s/.test(line) ? line : wrapWords(line, columns)
}

let wrap: typeof wrapAnsi | undefined
let widthOf: typeof stringWidth | undefined

/** Loads what breaks lines and measures them: it takes as long as all that a help text needs. Before it is loaded lines stay whole. */
export async function loadWrapping(): Promise<void> {
  wrap ??= (await import('wrap-ansi')).default
  widthOf ??= (await import('string-width')).default
}

/** The same where one of the streams is a terminal: nothing is broken for a program, nor are its rows' last cells aligned. */
export async function loadWrappingFor(...streams: readonly Terminal[]): Promise<void> {
  if (streams.some((stream) => Number.isFinite(columnsOf(stream)))) await loadWrapping()
}

/** Places that text takes on a terminal; before loadWrapping as if all of it were plain letters. */
export function textWidth(text: string): number {
  return widthOf === undefined ? text.length : widthOf(text)
}

/** Text broken between words; a word that is longer than the width (a path) stays whole. */
export function wrapWords(text: string, columns: number): string {
  if (wrap === undefined || !Number.isFinite(columns)) return text
  return wrap(text, Math.max(1, columns), { hard: false, trim: true })
}

function columnsOf({ isTTY, columns }: Terminal): number {
  return isTTY === true && columns !== undefined && columns > 0 ? columns : Number.POSITIVE_INFINITY
}
