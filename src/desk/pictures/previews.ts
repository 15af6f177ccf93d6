// Previews of patches, on a thread of their own that keeps what it has open: one at a time, the one asked for last first.
import { existsSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { Piscina } from 'piscina'
import { answered } from '../across-threads.js'
import { type DrawnPreview, drawPreview, type PreviewTask } from './draw-preview.js'
import { Lanes } from './lanes.js'

export class Previews {
  readonly #lanes = new Lanes(1)
  readonly #pool: Piscina | null

  constructor() {
    const filename = fileURLToPath(new URL('./preview-worker.js', import.meta.url))
    this.#pool = existsSync(filename)
      ? new Piscina({ filename, minThreads: 0, maxThreads: 1, idleTimeout: 600_000, atomics: 'disabled' })
      : null
  }

  /** @throws as drawPreview; the abort reason */
  draw(task: PreviewTask, signal: AbortSignal): Promise<DrawnPreview> {
    const pool = this.#pool
    const draw = async () =>
      pool === null ? drawPreview(task) : answered<DrawnPreview>(await pool.run(task))
    return this.#lanes.run('now', draw, signal)
  }

  async close(): Promise<void> {
    await this.#pool?.destroy()
  }
}
