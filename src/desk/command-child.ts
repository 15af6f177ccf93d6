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

/** As the command has it: src/search/told.ts. */
const told = z.discriminatedUnion('kind', [
  z.object({ kind: z.literal('failed'), error: z.object({ message: z.string() }) }),
  z.object({ kind: z.literal('progress'), phase: z.string(), done: z.number(), total: z.number() }),
  z.object({
    kind: z.literal('ranking'),
    read: z.number(),
    total: z.number(),
    candidates: z.array(z.looseObject({ id: z.string() })),
    matrix: z
      .object({
        targets: z.array(z.int()),
        donors: z.array(z.tuple([z.int(), z.int()])),
        cells: z.array(z.tuple([z.int(), z.int(), z.number().nullable()])),
      })
      .optional(),
  }),
  z.object({
    kind: z.literal('row'),
    target: z.int(),
    donors: z.array(z.tuple([z.int(), z.int()])),
    quality: z.array(z.number().nullable()),
  }),
])
/** What a command tells on its way, as far as a page wants it. */
export type Told = Exclude<z.infer<typeof told>, { kind: 'failed' }>

type Ending =
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
    stdio: ['ignore', 'ignore', 'ignore', 'ipc'],
  })
  let isStopped = false
  let why: string | undefined
  child.on('message', (message) => {
    const { data } = told.safeParse(message)
    if (data?.kind === 'failed') why = data.error.message
    else if (data !== undefined) onTold(data)
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
          message: why ?? `it ended with ${signal ?? `exit code ${code}`}`,
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
