// Where the sheet gets its pictures from: the repair of one frame of one candidate.
import pLimit from 'p-limit'
import type { Rect } from '../../raster/rect.js'
import { FinishMeter } from '../../repair/finish/meter.js'
import { knowOwnReading, type OwnReading } from '../../repair/finish/own-frames.js'
import type { DonorSharpness } from '../../repair/hide/donor-sharpness.js'
import { HidePass, type LentFrame } from '../../repair/hide/hide-pass.js'
import { grainRound, knowGrain, type PlateGrain } from '../../repair/hide/plate-grain.js'
import { seenTarget } from '../../repair/hide/seen-target.js'
import { LightingPass } from '../../repair/lighting/lighting-pass.js'
import type { RepairJob } from '../../repair/repair.js'
import type { Candidate, FrameMatch } from '../../search/result.js'
import type { DonorPicture, RowPictures, SeenTarget, Show } from './seen.js'
import { type ShownLent, shownLent } from './strips.js'

/** Pictures repaired at a time, whoever asks: at most so many, */
const AT_A_TIME = 4
/** and so many pixels of them in all, of each of which some 250 bytes are in use. */
const PIXELS_AT_A_TIME = 4_000_000

/** How many pictures of a window are repaired at a time, at least one. They are shrunk, where they are, only afterwards. */
export function atATime({ w, h }: Pick<Rect, 'w' | 'h'>): number {
  return Math.max(1, Math.min(AT_A_TIME, Math.floor(PIXELS_AT_A_TIME / (w * h))))
}

/** Takes in frames in their order. */
export type FrameMeter = Pick<FinishMeter, 'add' | 'measured'>

/** Asked once per frame shown, several at a time. */
export interface PictureSource {
  pictures(candidate: Candidate, frame: FrameMatch): Promise<RowPictures>
  /** The donor alone, which takes far less time. */
  donor(candidate: Candidate, frame: FrameMatch): Promise<DonorPicture>
  /** The target and its mask alone; absent: told by a candidate's pictures. */
  target?(frame: FrameMatch): Promise<SeenTarget>
  /** What a candidate lends alone, as it is shown, which takes less time; absent: told by its pictures. */
  lent?(candidate: Candidate, frame: FrameMatch, show: Show): Promise<ShownLent>
  /** Measures repaired frames of a hide, in their order; absent where they can't be. */
  meter?(): Promise<FrameMeter>
  /** The same of a frame that a meter takes in; absent: told by its pictures. */
  measured?(candidate: Candidate, frame: FrameMatch, meter: FrameMeter, show: Show): Promise<ShownLent>
}

/** What a job's first pictures told, so that who draws others on another thread need not find it out again. */
export interface Learnt {
  /** The plate's; null where none is seen. */
  readonly grain: PlateGrain | null
  /** What its own frames come to in the meter; null: not known. */
  readonly own: OwnReading | null
  /** By a candidate's id. */
  readonly sharpness: ReadonlyMap<string, DonorSharpness>
}

/** The pictures that patch would make of a result: the lent pixels of a hide, the lifted ratio of a borrow. */
export class JobPictures implements PictureSource {
  readonly #hides = new Map<string, HidePass>()
  readonly #lightings = new Map<string, LightingPass>()
  readonly #limit: ReturnType<typeof pLimit>

  /** @param known absent: found out as pictures are asked for */
  constructor(
    readonly job: RepairJob,
    readonly known?: Learnt,
  ) {
    this.#limit = pLimit(atATime(job.region.window))
    if (known === undefined) return
    knowGrain(job, known.grain)
    knowOwnReading(job, known.own)
  }

  pictures(candidate: Candidate, frame: FrameMatch): Promise<RowPictures> {
    return this.#limit(
      (): Promise<RowPictures> =>
        this.#lightingOf(candidate)?.lift(frame) ?? this.#hideOf(candidate).repair(frame),
    )
  }

  async target({ target: number }: FrameMatch): Promise<SeenTarget> {
    const { window: rect, frames } = this.job.region
    return { rect, target: await seenTarget(this.job, number), mask: frames.get(number)!.inside }
  }

  async donor(candidate: Candidate, frame: FrameMatch): Promise<DonorPicture> {
    return this.#lightingOf(candidate)?.donor(frame) ?? this.pictures(candidate, frame)
  }

  lent(candidate: Candidate, frame: FrameMatch, show: Show): Promise<ShownLent> {
    return this.#limit(async () => {
      const lifted = this.#lightingOf(candidate)?.lift(frame)
      if (lifted !== undefined) return shownLent(await lifted, show)
      return this.#hideOf(candidate).lend(frame, (lent) => this.#shown(lent, show))
    })
  }

  measured(candidate: Candidate, frame: FrameMatch, meter: FrameMeter, show: Show): Promise<ShownLent> {
    return this.#limit(() =>
      this.#hideOf(candidate).measure(frame, (made) => {
        meter.add(frame.target, made)
        return this.#shown(made, show)
      }),
    )
  }

  /** In the workspace, in which its patch lies. */
  #shown(lent: LentFrame, show: Show): ShownLent {
    const { workspace } = this.job
    return workspace.within((scratch) =>
      shownLent(
        lent,
        (picture) => show(picture, workspace),
        (length) => scratch.floats(length),
      ),
    )
  }

  meter(): Promise<FrameMeter> {
    return FinishMeter.over(this.job)
  }

  /** Of the candidates of a hide that pictures were asked of. */
  async learnt(): Promise<Learnt> {
    const sharpness = new Map<string, DonorSharpness>()
    for (const [id, pass] of this.#hides) sharpness.set(id, await pass.sharpness())
    const { own } = await FinishMeter.over(this.job)
    return { grain: await grainRound(this.job), own, sharpness }
  }

  #lightingOf(candidate: Candidate): LightingPass | undefined {
    if (!candidate.moment?.quietState?.length) return undefined
    const pass = this.#lightings.get(candidate.id) ?? new LightingPass(this.job, candidate)
    this.#lightings.set(candidate.id, pass)
    return pass
  }

  #hideOf(candidate: Candidate): HidePass {
    const { id } = candidate
    const pass = this.#hides.get(id) ?? new HidePass(this.job, candidate, {}, this.known?.sharpness.get(id))
    this.#hides.set(id, pass)
    return pass
  }
}

/** As JobPictures. */
export function picturesOf(job: RepairJob): PictureSource {
  return new JobPictures(job)
}
