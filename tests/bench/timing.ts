// Timed children, taken in turn so that a slow minute of the machine falls on all of them alike.
import { fork } from 'node:child_process'
import { mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { Done, Job } from './child.js'

export interface Timed {
  /** Least of the runs, seconds: what the work costs when nothing else is in the way. */
  readonly least: number
  /** Processor time of all threads, likewise. */
  readonly leastProcessor: number
  /** Largest over least, minus 1. */
  readonly spread: number
  readonly peakBytes: number
  readonly sink: string
  readonly runs: number
}

/** Runs a job in a child whose home and cache folder are `home`. */
export function runJob(job: Job, home: string): Promise<Done> {
  return new Promise((resolve, reject) => {
    const child = fork(new URL('./child.js', import.meta.url), {
      // env-paths' places on Linux, macOS and Windows.
      env: { ...process.env, XDG_CACHE_HOME: home, HOME: home, LOCALAPPDATA: home },
      // As the built tool runs: source maps would be parsed anew by every thread.
      execArgv: [],
    })
    let done: Done | undefined
    child.on('message', (message: Done) => {
      done = message
    })
    child.on('error', reject)
    child.on('exit', (code) => {
      if (done) resolve(done)
      else reject(new Error(`the timed process ended with ${code}`))
    })
    child.send(job)
  })
}

/** An empty home folder for as long as `use` runs. */
export async function withHome<T>(use: (home: string) => Promise<T>): Promise<T> {
  const home = await mkdtemp(join(tmpdir(), 'offcut-bench-home-'))
  try {
    return await use(home)
  } finally {
    await rm(home, { recursive: true, force: true })
  }
}

/**
 * Each job `rounds` times, one after the other in turn, every time with an empty cache.
 *
 * @param also something else that is timed, once per round
 */
export async function alternate<K extends string>(
  jobs: Readonly<Record<K, Job>>,
  rounds: number,
  say: (line: string) => void,
  also: () => Promise<void> = async () => {},
): Promise<Record<K, Timed>> {
  const names = Object.keys(jobs) as K[]
  const all = new Map<K, Done[]>(names.map((n) => [n, []]))
  for (let round = 0; round < rounds; round++) {
    for (const name of names) {
      const done = await withHome((home) => runJob(jobs[name], home))
      say(
        `  ${name}: ${done.seconds.toFixed(2)} s, ${Math.round(done.peakBytes / 2 ** 20)} MiB (${done.sink})`,
      )
      all.get(name)!.push(done)
    }
    await also()
  }
  return Object.fromEntries(names.map((n) => [n, timedOf(all.get(n)!)])) as Record<K, Timed>
}

export function timedOf(runs: readonly Done[]): Timed {
  const seconds = runs.map((r) => r.seconds)
  const least = Math.min(...seconds)
  return {
    least,
    leastProcessor: Math.min(...runs.map((r) => r.processorSeconds)),
    spread: Math.max(...seconds) / least - 1,
    peakBytes: Math.max(...runs.map((r) => r.peakBytes)),
    sink: runs[0].sink,
    runs: runs.length,
  }
}
