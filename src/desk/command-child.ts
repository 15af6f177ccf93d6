// One command as a process of its own, at low priority: what it tells on its way, how it ended, and stopping it. When this
// process dies the channel between both closes, upon which the command ends as by Ctrl-C.
import { fork } from 'node:child_process'
import { setPriority } from 'node:os'
import { fileURLToPath } from 'node:url'
import * as z from 'zod'

/** The launcher that stands beside this very code, wherever somebody stands. */
const LAUNCHER = fileURLToPath(new URL('../../bin/offcut.js', import.meta.url))
/** Those who wait at a screen go first. */
const NICE = 10
/** A command that does not end when it is told to is killed. */
const PATIENCE_MS = 15_000
/** What is kept of what it says, for the sentence that it failed with. */
const KEPT_CHARACTERS = 16_000

const told = z.discriminatedUnion('kind', [
  z.object({ kind: z.literal('progress'), phase: z.string(), done: z.number(), total: z.number() }),
  z.object({
    kind: z.literal('ranking'),
    read: z.number(),
    total: z.number(),
    candidates: z.array(z.looseObject({ id: z.string() })),
  }),
  z.object({
    kind: z.literal('row'),
    target: z.int(),
    donors: z.array(z.tuple([z.int(), z.int()])),
    quality: z.array(z.number().nullable()),
  }),
])
/** What a command tells on its way, as far as a page wants it. */
export type Told = z.infer<typeof told>

export type Ending =
  | { readonly state: 'done' | 'stopped'; readonly message?: undefined }
  | { readonly state: 'failed'; readonly message: string }

export interface CommandChild {
  readonly ended: Promise<Ending>
  /** @returns when it has ended */
  stop(): Promise<void>
}

/** @param here where it is run */
export function startCommand(
  args: readonly string[],
  here: string,
  onTold: (told: Told) => void,
): CommandChild {
  // A group of its own: Ctrl-C in the desk's terminal is the desk's to hear.
  const child = fork(LAUNCHER, [...args], {
    cwd: here,
    detached: true,
    execArgv: [],
    stdio: ['ignore', 'ignore', 'pipe', 'ipc'],
  })
  let isStopped = false
  let said = ''
  child.stderr!.setEncoding('utf8').on('data', (text: string) => {
    said = (said + text).slice(-KEPT_CHARACTERS)
  })
  child.on('message', (message) => {
    const parsed = told.safeParse(message)
    if (parsed.success) onTold(parsed.data)
  })
  child.once('spawn', () => {
    try {
      setPriority(child.pid!, NICE)
    } catch {
      // It runs as it is, or has ended already.
    }
  })
  const ended = new Promise<Ending>((resolve) => {
    child.once('error', (cause) =>
      resolve({ state: 'failed', message: `it can't be started: ${cause.message}` }),
    )
    child.once('close', (code, signal) => {
      if (code === 0) resolve({ state: 'done' })
      else if (isStopped) resolve({ state: 'stopped' })
      else
        resolve({
          state: 'failed',
          message: sentenceIn(said) ?? `it ended with ${signal ?? `exit code ${code}`}`,
        })
    })
  })
  return {
    ended,
    stop: async () => {
      isStopped = true
      child.kill('SIGTERM')
      const patience = setTimeout(() => child.kill('SIGKILL'), PATIENCE_MS)
      await ended
      clearTimeout(patience)
    },
  }
}

/** The sentence that a command ends with when it fails. */
function sentenceIn(said: string): string | undefined {
  return said
    .split('\n')
    .findLast((line) => line.startsWith('offcut: '))
    ?.slice('offcut: '.length)
}
