// Runs a command in this process and keeps what it printed: what a shell would see of it.
import { readdirSync } from 'node:fs'
import { run } from '../../src/cli/run.js'

export interface Shown {
  readonly code: number
  /** Results. */
  readonly stdout: string
  /** Errors, remarks and progress. */
  readonly stderr: string
}

export async function cli(...argv: string[]): Promise<Shown> {
  const out: string[] = []
  const err: string[] = []
  const stdout = process.stdout.write
  const stderr = process.stderr.write
  process.stdout.write = keep(out)
  process.stderr.write = keep(err)
  try {
    return { code: await run(argv), stdout: out.join(''), stderr: err.join('') }
  } finally {
    process.stdout.write = stdout
    process.stderr.write = stderr
  }
}

/** Stands in for a stream's `write`; nothing of ours is printed while a command runs. */
function keep(into: string[]): typeof process.stdout.write {
  return ((text: string | Uint8Array) => {
    into.push(typeof text === 'string' ? text : Buffer.from(text).toString())
    return true
  }) as typeof process.stdout.write
}

/** What an output folder shows, sorted: all but the hidden list by which a later run knows its files. */
export function shownIn(folder: string): string[] {
  return readdirSync(folder)
    .filter((name) => name !== '.offcut-files.json')
    .sort()
}

/** What lies beside the frames of a patch. */
export const BESIDE_FRAMES = ['check.html', 'patch.csv', 'patch.json', 'patch.otio'] as const
