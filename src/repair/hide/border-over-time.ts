// The border of a patch over neighbouring frames: what the light leaves there is slow, what people in the surround, a codec and
// grain add to it is not, and a membrane that followed them would shimmer.
import type { Frame } from '../../raster/frame.js'
import type { Candidate, FrameMatch } from '../../search/result.js'
import type { RepairJob } from '../repair.js'
import { type BlendedAsShot, blend } from './blend.js'
import { type BorderCells, borderCells } from './border-cells.js'
import { agreeingCells } from './border-outliers.js'
import { lendersOf } from './lent-donors.js'
import { type Membrane, membraneOver } from './membrane.js'
import { seenTarget } from './seen-target.js'

/** Frames to either side whose border has the same say. */
const STEADY_FRAMES = 3

export class BorderOverTime {
  readonly #known = new Map<number, BorderCells>()

  constructor(
    readonly job: RepairJob,
    readonly candidate: Candidate,
  ) {}

  /**
   * @param seen the target over the window, and what is lent to it
   * @returns null where too little of the border is seen @throws as blend, for the frames beside it
   */
  async membraneAt(match: FrameMatch, seen: Frame, lent: BlendedAsShot): Promise<Membrane | null> {
    this.#known.set(match.target, this.#known.get(match.target) ?? this.#cellsOf(match, seen, lent))
    const near = this.#steadyWith(match)
    for (const other of near) {
      if (this.#known.has(other.target)) continue
      const { job, candidate } = this
      const held = job.workspace.hold()
      try {
        const there = await seenTarget(job, other.target)
        const blended = await blend(job, other, candidate.map, held, null)
        this.#known.set(other.target, this.#cellsOf(other, there, blended))
      } finally {
        held.release()
      }
    }
    const borders = near.map((other) => this.#known.get(other.target)!)
    for (const target of this.#known.keys())
      if (Math.abs(target - match.target) > 2 * STEADY_FRAMES) this.#known.delete(target)
    return membraneOver(borders)
  }

  /** The frame and those beside it, as far as the same donor is held, or played on. */
  #steadyWith(match: FrameMatch): FrameMatch[] {
    // Where the camera moves the light of one place lies somewhere else on each frame.
    if (this.job.result.camera !== undefined) return [match]
    const { frames } = this.candidate
    const at = frames.findIndex((f) => f.target === match.target)
    let [first, last] = [at, at]
    while (first > 0 && at - first < STEADY_FRAMES && goesOn(frames[first - 1]!, frames[first]!)) first--
    while (last + 1 < frames.length && last - at < STEADY_FRAMES && goesOn(frames[last]!, frames[last + 1]!))
      last++
    return at < 0 ? [match] : frames.slice(first, last + 1)
  }

  #cellsOf(match: FrameMatch, seen: Frame, lent: BlendedAsShot): BorderCells {
    const { region, target, donors } = this.job
    const { surround } = region.frames.get(match.target)!
    const lenders = lendersOf(match).map(({ plate }) => donors[plate]!.clipLevel)
    const clip = [target.clipLevel, Math.min(...lenders)] as const
    return agreeingCells(borderCells({ ...lent, seen, surround, clip }))
  }
}

/** Does the same surface lend in the same light? */
function goesOn(a: FrameMatch, b: FrameMatch): boolean {
  const step = b.donor - a.donor
  return a.plate === b.plate && (step === 0 || Math.abs(step) === Math.abs(b.target - a.target))
}
