// Every error offcut raises on purpose, and the factories that word them: what, which file, both values, what to do.
import { nearMiss } from './near-miss.js'

/** What a shell sees: 1 failed while running, 2 misused. */
export type ExitCode = 1 | 2

/** An error with a message for people, a code for programs and an exit code for shells. */
export class OffcutError extends Error {
  override readonly name = 'OffcutError'
  constructor(
    readonly code: string,
    message: string,
    readonly exitCode: ExitCode = 1,
    options?: ErrorOptions,
  ) {
    super(message, options)
  }
}

/** An option inside a message: its name in backticks. The command line shows its flag instead. */
export function option(name: string): string {
  return `\`${name}\``
}

/**
 * Something in the command or the call is wrong before any footage is touched (exit 2).
 *
 * @param flag   the option, as `option` has it, or a flag of the command line
 * @param wanted what it takes, with its range or the list of allowed names
 * @param got    what was given
 * @param among  names that are taken: the nearest one is suggested
 */
export function misuse(
  flag: string,
  wanted: string,
  got: unknown,
  { among = [] }: { readonly among?: readonly string[] } = {},
): OffcutError {
  const meant = typeof got === 'string' ? nearMiss(got, among) : null
  const hint = meant === null ? '' : `; did you mean ${printable(meant)}?`
  return new OffcutError('MISUSE', `${flag} takes ${wanted}, got ${quote(got)}${hint}`, 2)
}

/**
 * A plate, a frame of it or a mask can't be used.
 *
 * @param code    for programs, e.g. `FRAME_UNREADABLE`
 * @param path    the file or folder
 * @param problem what is wrong with it, with both values where two disagree
 * @param remedy  what to do
 */
export function plateError(
  code: string,
  path: string,
  problem: string,
  remedy: string,
  options?: { cause?: unknown; exitCode?: ExitCode },
): OffcutError {
  return new OffcutError(code, `${printable(path)} ${problem}: ${remedy}`, options?.exitCode ?? 1, {
    cause: options?.cause,
  })
}

/** An output can't be written. */
export function writeError(
  code: string,
  path: string,
  problem: string,
  remedy: string,
  cause?: unknown,
): OffcutError {
  return new OffcutError(code, `${printable(path)} ${problem}: ${remedy}`, 1, {
    cause,
  })
}

/** What the engine, its threads, WebAssembly, codecs and the system say where memory is lacking. */
const LACKING =
  /allocation failed|could not allocate memory|cannot allocate|out of memory|memory\.grow\(\)|unable to grow instance memory|not enough memory|ENOMEM/i

/**
 * Memory is lacking.
 *
 * @param cause anything that was thrown, also by another thread, where only its message is left of an error
 * @returns null where it is something else
 */
export function outOfMemory(cause: unknown): OffcutError | null {
  if (!(cause instanceof Error)) return null
  const { code } = cause as { readonly code?: unknown }
  if (cause instanceof OffcutError && code !== OUT_OF_MEMORY) return null
  if (!LACKING.test(`${code ?? ''} ${cause.message}`)) return null
  return new OffcutError(
    OUT_OF_MEMORY,
    'there is not enough memory for this: close what else is running, or ask for a smaller region, fewer frames or fewer candidates',
    1,
    { cause },
  )
}

export const OUT_OF_MEMORY = 'OUT_OF_MEMORY'

/**
 * Text from outside (file names, notes) safe for a terminal: control characters, line ends and the marks that turn the
 * direction of writing are made visible. Text that went through it once stays as it is.
 */
export function printable(text: string): string {
  return text.replace(
    /[\p{Cc}\p{Bidi_Control}\u2028\u2029\ufeff]/gu,
    (c) => `\\u${c.charCodeAt(0).toString(16).padStart(4, '0')}`,
  )
}

function quote(value: unknown): string {
  return typeof value === 'string' ? `"${printable(value)}"` : String(value)
}
