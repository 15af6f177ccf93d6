// The lighting pass onto disk: a picture to multiply with, or the whole frames multiplied.
import { join } from 'node:path'
import { writeExr } from '../../footage/write/exr.js'
import type { OnProgress } from '../../progress.js'
import { type Frame, frame } from '../../raster/frame.js'
import type { Candidate } from '../../search/result.js'
import { withFootage } from '../footage.js'
import { provenanceOf } from '../hand-over/provenance.js'
import type { RepairJob } from '../repair.js'
import { carried, frameName, framesToWrite, untouchedFrame, wholeEnding, writeRepaired } from '../write.js'
import { type LiftedFrame, type LightingOptions, LightingPass } from './lighting-pass.js'

export interface WriteLightingOptions extends LightingOptions {
  /** The target's full frames, multiplied, instead of the ratio. */
  readonly whole?: boolean
  readonly onProgress?: OnProgress
  readonly signal?: AbortSignal
}

/**
 * Writes a frame for each target frame into an empty folder: a half-float EXR of the plate's full size, linear factors,
 * exactly 1 beyond the feathered mask, on frames beyond the moment and on those whose mask is black, so that it can be
 * multiplied over a frame as it stands.
 *
 * @returns the files' names, in order
 */
export async function writeLighting(
  job: RepairJob,
  candidate: Candidate,
  folder: string,
  options: WriteLightingOptions = {},
): Promise<string[]> {
  return withFootage(job, [candidate], options, () => writeFrames(job, candidate, folder, options))
}

async function writeFrames(
  job: RepairJob,
  candidate: Candidate,
  folder: string,
  { whole = false, onProgress, signal, ...options }: WriteLightingOptions,
): Promise<string[]> {
  const pass = new LightingPass(job, candidate)
  const { target } = job
  const names: string[] = []
  const frames = framesToWrite(job, candidate)
  for (const [i, { target: number, match }] of frames.entries()) {
    signal?.throwIfAborted()
    const lifted = match === undefined ? null : await pass.lift(match, options)
    const ending = whole ? wholeEnding(target) : 'exr'
    const name = frameName(target, number, whole ? 'borrowed' : 'ratio', ending)
    const path = join(folder, name)
    const strings = provenanceOf(job, candidate, match)
    if (whole) await writeRepaired(target, number, lifted ?? untouchedFrame(job), path, strings)
    else {
      const full = frame(target.height, target.width, 3)
      full.data.fill(1)
      if (lifted !== null) layRatio(full, lifted)
      await writeExr(path, full, { ...(await carried(target, number)), strings })
    }
    names.push(name)
    onProgress?.({ phase: 'writing', done: i + 1, total: frames.length })
  }
  return names
}

function layRatio(full: Frame, { rect, ratio }: LiftedFrame): void {
  for (let y = 0; y < rect.h; y++) {
    const from = y * rect.w * 3
    full.data.set(ratio.data.subarray(from, from + rect.w * 3), ((rect.y + y) * full.shape[1] + rect.x) * 3)
  }
}
