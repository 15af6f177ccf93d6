// The frames that the page plays drawn on several threads: each takes some of the target frames, for all candidates.
import { existsSync } from 'node:fs'
import { availableParallelism } from 'node:os'
import { fileURLToPath } from 'node:url'
import type { Piscina } from 'piscina'
import { OffcutError } from '../../errors.js'
import type { GrainModel } from '../../repair/grain/model.js'
import { type JobSetup, jobSetup, sharedSamples } from '../../repair/job-setup.js'
import type { Plan } from './budget.js'
import type { DrawPart, Spread } from './carry.js'
import type { CarriedPart } from './carry-part.js'
import type { DrawOutcome, DrawTask } from './draw-worker.js'
import type { JobPictures, Learnt } from './pictures.js'
import { playing } from './played.js'

/**
 * A thread must have this many pictures to draw: starting it, warming its code up and making for itself what candidates share
 * takes 1.3 s of processor, as long as drawing so many of 290 x 250 pixels does. A find that draws 294
 * took 16.3 s on two threads and takes 14.5 on this one alone.
 */
const MIN_PICTURES = 192
/** Each takes 190 MB with what it keeps: with three others a find stays below 1.5 GiB. */
const MAX_THREADS = 4
/** Pixels of the window that all other threads together may work on: of each some 250 bytes are in use. */
const MAX_PIXELS = 1_000_000
/** Of what a job may keep in memory, all other threads together: each has but some of the frames. */
const ROOM = 0.5
/** Parts per thread: the last to finish is waited for, and each part measures one frame of its neighbour again. */
const PARTS_PER_THREAD = 2
/** Frames of a part: of fewer, most of what lasts from frame to frame is made anew. */
const MIN_FRAMES = 4

export interface DrawThreadsOptions {
  /** This one among them. */
  readonly threads?: number
  readonly signal?: AbortSignal
}

/** Threads that have begun to start, and draw when they are asked. */
export class DrawThreads {
  readonly #pool: Piscina
  #heard = () => {}

  /** @returns null where this thread by itself is as fast, or the footage is a movie, which is decoded in one stream */
  static async of(
    pictures: JobPictures,
    { threads, signal }: DrawThreadsOptions = {},
  ): Promise<DrawThreads | null> {
    const { job } = pictures
    const { result, region } = job
    // Who is not patched but borrowed from looks at frames of its own, once for each candidate.
    if (result.candidates.some(({ moment }) => moment !== undefined)) return null
    if ([job.target, ...job.donors].some(({ streamed }) => streamed)) return null
    const worker = fileURLToPath(new URL('./draw-worker.js', import.meta.url))
    // Before it is built the tool has no file that a thread could start from.
    if (!existsSync(worker)) return null
    const played = [...playing(result.candidates).values()]
    const wanted = played.reduce((sum, { length }) => sum + length, 0)
    const others = Math.floor(
      Math.min(
        (threads ?? Math.min(availableParallelism(), MAX_THREADS, wanted / MIN_PICTURES)) - 1,
        MAX_PIXELS / (region.window.w * region.window.h),
      ),
    )
    if (others < 1) return null
    const { Piscina } = await import('piscina')
    const pool = new Piscina({
      filename: worker,
      minThreads: others,
      maxThreads: others,
      workerData: jobSetup(job, ROOM / others) satisfies JobSetup,
    })
    return new DrawThreads(pool, pictures, others, signal)
  }

  private constructor(
    pool: Piscina,
    readonly pictures: JobPictures,
    readonly others: number,
    readonly signal: AbortSignal | undefined,
  ) {
    this.#pool = pool
    this.#pool.on('message', () => this.#heard())
  }

  close(): Promise<void> {
    return this.#pool.destroy()
  }

  /** @param exposureStops as ViewingTransform has it @throws as carryPart: what failed on the earliest frames */
  spread(plan: Plan, exposureStops: number): Spread {
    return async (targets, here, onDrawn) => {
      const learnt = await shared(this.pictures)
      const failed = new AbortController()
      const stop = AbortSignal.any([failed.signal, ...(this.signal ? [this.signal] : [])])
      const heard = () => {
        stop.throwIfAborted()
        onDrawn()
      }
      this.#heard = () => {
        if (!stop.aborted) onDrawn()
      }
      const there: DrawPart = async (within) => {
        const task: DrawTask = { plan, exposureStops, within, learnt }
        const outcome: DrawOutcome = await this.#pool.run(task, { signal: stop })
        if ('part' in outcome) return outcome.part
        const { code, message, exitCode } = outcome.failure
        throw new OffcutError(code, message, exitCode)
      }
      const size = Math.max(MIN_FRAMES, Math.ceil(targets.length / (PARTS_PER_THREAD * (this.others + 1))))
      const asked: (readonly number[])[] = []
      for (let at = 0; at < targets.length; at += size) asked.push(targets.slice(at, at + size))
      const parts: CarriedPart[] = []
      const failures: { readonly part: number; readonly cause: unknown }[] = []
      let next = 0
      const work = async (draw: DrawPart): Promise<void> => {
        while (next < asked.length && !stop.aborted) {
          const part = next++
          try {
            parts[part] = await draw(asked[part], heard)
          } catch (cause) {
            // Who is stopped since another failed has nothing to say.
            if (!stop.aborted) failures.push({ part, cause })
            failed.abort()
          }
        }
      }
      await Promise.all([work(here), ...Array.from({ length: this.others }, () => work(there))])
      this.signal?.throwIfAborted()
      if (failures.length > 0) throw failures[0].cause
      return parts
    }
  }
}

/** What was learnt, its samples in memory that threads share. */
async function shared(pictures: JobPictures): Promise<Learnt> {
  const { grain, ...others } = await pictures.learnt()
  if (grain === null) return { grain, ...others }
  const share = (model: GrainModel) => ({ ...model, where: model.where && sharedSamples(model.where) })
  return { ...others, grain: { ...grain, within: share(grain.within), around: share(grain.around) } }
}
