// One thread of DrawThreads: opens the footage for itself and draws what it is asked for.
import { parentPort } from 'node:worker_threads'
import { workerData } from 'piscina'
import { type ExitCode, OffcutError } from '../../errors.js'
import { type JobSetup, openJob } from '../../repair/job-setup.js'
import { onKeptLight } from '../../repair/repair.js'
import type { Plan } from './budget.js'
import { type CarriedPart, carryPart } from './carry-part.js'
import { JobPictures, type Learnt } from './pictures.js'
import { factorOf, shrunk } from './shrink.js'

export interface DrawTask {
  readonly plan: Plan
  readonly exposureStops: number
  /** Target frames. */
  readonly within: readonly number[]
  readonly learnt: Learnt
}

/** An error goes over as what it says, since a thread gets no classes. */
export type DrawOutcome =
  | { readonly part: CarriedPart }
  | { readonly failure: { readonly code: string; readonly message: string; readonly exitCode: ExitCode } }

const setup = workerData as JobSetup
/** Opened for the first task: a thread that comes too late for any opens nothing, and what fails fails a task. */
let opened: Promise<JobPictures> | undefined

async function open(learnt: Learnt): Promise<JobPictures> {
  return new JobPictures(onKeptLight(await openJob(setup)), learnt)
}

/** Some target frames of all candidates. */
export default async function draw({ plan, exposureStops, within, learnt }: DrawTask): Promise<DrawOutcome> {
  try {
    opened ??= open(learnt)
    const pictures = await opened
    const { candidates } = setup.result
    const { viewing } = pictures.job
    const part = await carryPart(
      candidates,
      shrunk(pictures, factorOf(setup.result)),
      plan,
      new Set(within),
      (picture, workspace) => viewing.toDisplay(picture, exposureStops, 1, workspace),
      () => parentPort?.postMessage('drawn'),
    )
    return { part }
  } catch (error) {
    if (!(error instanceof OffcutError)) throw error
    const { code, message, exitCode } = error
    return { failure: { code, message, exitCode } }
  }
}
