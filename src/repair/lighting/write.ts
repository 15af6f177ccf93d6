// The lighting pass onto disk: a picture to multiply with, or the whole frames multiplied.
import { join } from 'node:path'
import type { Encoding } from '../../colour/encoding.js'
import { encodeInPlace } from '../../colour/transfer.js'
import { writeExr } from '../../footage/write/exr.js'
import { MAX_LIGHT_STOPS } from '../../match/light-law.js'
import type { OnProgress } from '../../progress.js'
import { type Frame, frame } from '../../raster/frame.js'
import type { Side } from '../../search/mask-edges.js'
import type { Candidate } from '../../search/result.js'
import { withFootage } from '../footage.js'
import { provenanceOf } from '../hand-over/provenance.js'
import { makeThenWrite } from '../make-then-write.js'
import type { RepairJob } from '../repair.js'
import { carried, frameName, framesToWrite, untouchedFrame, wholeEnding, writeRepaired } from '../write.js'
import { cutLight } from './cut-light.js'
import { type LiftedFrame, type LightingOptions, LightingPass } from './lighting-pass.js'

export interface WriteLightingOptions extends LightingOptions {
  /** The target's full frames, multiplied, instead of the ratio. */
  readonly whole?: boolean
  /**
   * Told of every lift that is more than light can do.
   *
   * @param stops the largest change of a pixel and channel, without sign, in stops
   */
  readonly onBeyondLight?: (frame: number, stops: number) => void
  /** Told of every lift that ends at the mask's edge with a step, and of the step on each side, stops; of none where the search saw that none shows. */
  readonly onCut?: (frame: number, sides: ReadonlyMap<Side, number>) => void
  /**
   * Told of every whole frame that a lift makes brighter than its PNG can hold, which is clipped.
   *
   * @param most its largest code value; 1 is full
   */
  readonly onClipped?: (frame: number, most: number) => void
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
  { whole = false, onBeyondLight, onCut, onClipped, onProgress, signal, ...options }: WriteLightingOptions,
): Promise<string[]> {
  const pass = new LightingPass(job, candidate)
  const { target } = job
  const frames = framesToWrite(job, candidate)
  // The search sees what lies beyond the edge in the donor.
  const showsNone = candidate.moment?.edgeStep === 0
  const ending = whole ? wholeEnding(target) : 'exr'
  const nameOf = (number: number) => frameName(target, number, whole ? 'borrowed' : 'ratio', ending)
  let done = 0
  await makeThenWrite(
    frames,
    async ({ target: number, match }): Promise<LiftedFrame | null> => {
      signal?.throwIfAborted()
      if (match === undefined) return null
      const lifted = await pass.lift(match, options)
      const stops = mostStops(lifted)
      if (stops > MAX_LIGHT_STOPS) onBeyondLight?.(number, stops)
      const cut = showsNone ? new Map() : cutLight(lifted)
      if (cut.size > 0) onCut?.(number, cut)
      const most = ending === 'png' ? brightest(lifted, target.encoding) : 0
      if (most > 1) onClipped?.(number, most)
      return lifted
    },
    async (lifted, { target: number, match }) => {
      const path = join(folder, nameOf(number))
      const strings = provenanceOf(job, candidate, match)
      if (whole) await writeRepaired(target, number, lifted ?? untouchedFrame(job), path, strings)
      else {
        const full = frame(target.height, target.width, 3)
        full.data.fill(1)
        if (lifted !== null) layRatio(full, lifted)
        await writeExr(path, full, { ...(await carried(target, number)), strings })
      }
      onProgress?.({ phase: 'writing', done: ++done, total: frames.length })
    },
  )
  signal?.throwIfAborted()
  return frames.map(({ target: number }) => nameOf(number))
}

/** The largest change of any pixel and channel, stops. */
function mostStops({ ratio }: LiftedFrame): number {
  let [low, high] = [1, 1]
  for (const factor of ratio.data) {
    if (factor < low) low = factor
    if (factor > high) high = factor
  }
  return Math.max(Math.log2(high), -Math.log2(low))
}

/** The largest code value that a lift brings about; what is as bright before it is not its doing. */
function brightest({ ratio, repaired }: LiftedFrame, encoding: Encoding): number {
  const lit = Float32Array.of(0)
  for (let j = 0; j < repaired.data.length; j++)
    if (ratio.data[j] > 1 && repaired.data[j] > lit[0]) lit[0] = repaired.data[j]
  encodeInPlace(lit, encoding)
  return lit[0]
}

function layRatio(full: Frame, { rect, ratio }: LiftedFrame): void {
  for (let y = 0; y < rect.h; y++) {
    const from = y * rect.w * 3
    full.data.set(ratio.data.subarray(from, from + rect.w * 3), ((rect.y + y) * full.shape[1] + rect.x) * 3)
  }
}
