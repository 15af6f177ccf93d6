// What a command may do to the outside: print, say, show progress, and be interrupted.
import type { ProgressBar } from './bar.js'

export interface Io {
  /** A result, on stdout. */
  print(text: string): void
  /** A remark, on stderr. */
  say(text: string): void
  readonly progress: ProgressBar
  readonly signal: AbortSignal
}
