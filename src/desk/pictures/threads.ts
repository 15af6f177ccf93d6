// The threads that decode and draw, so that the server's own is free to answer.
import { existsSync } from 'node:fs'
import { availableParallelism } from 'node:os'
import { fileURLToPath } from 'node:url'
import type { MessagePort } from 'node:worker_threads'
import { Piscina } from 'piscina'
import { answered } from '../across-threads.js'
import { type Lane, Lanes } from './lanes.js'
import { answerTo, type PictureTask } from './tasks.js'

/** More threads than this only wait for the disk. */
const MAX_THREADS = 4

export class Threads {
  readonly lanes: Lanes
  #pool: Piscina | null = null

  constructor() {
    // Two at least: whoever waits must not wait for what is measured in the background.
    const count = Math.max(2, Math.min(MAX_THREADS, availableParallelism() - 1))
    this.lanes = new Lanes(count)
    const filename = fileURLToPath(new URL('./picture-worker.js', import.meta.url))
    // Before it is built the tool has no file that a thread could start from.
    if (existsSync(filename))
      this.#pool = new Piscina({
        filename,
        // One loads what it needs while the desk opens its shots.
        minThreads: 1,
        maxThreads: count,
        idleTimeout: 60_000,
        atomics: 'disabled',
      })
  }

  /** To be called in a lane's turn. @param ports handed over with the task */
  async run(task: PictureTask, ports: readonly MessagePort[] = []): Promise<Uint8Array | number | null> {
    if (this.#pool === null) return answerTo(task)
    return answered(await this.#pool.run(task, { transferList: [...ports] }))
  }

  /** @throws the abort reason, where its signal fires before it was begun */
  inTurn(lane: Lane, task: PictureTask, signal: AbortSignal): Promise<Uint8Array | number | null> {
    return this.lanes.run(lane, () => this.run(task), signal)
  }

  async close(): Promise<void> {
    await this.#pool?.destroy()
  }
}
