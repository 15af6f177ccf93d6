// The white noise that a candidate's made grain comes from: what is new on each frame, and what lasts from one to the next. On a
// plate whose pace is known both go with it: while the plate repeats itself nothing is new.
import type { Candidate } from '../../search/result.js'
import { KeptNoise, LastingField } from '../grain/noise-field.js'
import type { WhiteFields } from '../grain/synthesise.js'
import type { RepairJob } from '../repair.js'
import { carriedAt, type PlatePace } from './plate-pace.js'

/** Streams of white noise: components of what is new on each frame, then of what lasts. */
const LASTING_STREAMS = 3
/** The same for all candidates of a result. */
const noises = new WeakMap<RepairJob, KeptNoise>()

export class MadeNoise {
  readonly #noise: KeptNoise
  readonly #targets: readonly number[]
  #lasting: readonly LastingField[] | undefined
  #fresh: readonly LastingField[] | undefined

  /** @param pace as the candidate goes with it; null: not known */
  constructor(
    job: RepairJob,
    candidate: Candidate,
    readonly pace: PlatePace | null,
  ) {
    this.#noise = noises.get(job) ?? new KeptNoise(job.room)
    noises.set(job, this.#noise)
    this.#targets = candidate.frames.map((f) => f.target)
  }

  /**
   * Of one of its frames.
   *
   * @param pixels  of a picture
   * @param carried share of what lasts that is carried to the next frame, 0 to 1; both the same for all frames
   */
  at(target: number, pixels: number, carried: number): WhiteFields {
    this.#lasting ??= this.#fields(pixels, LASTING_STREAMS, carried)
    if (this.pace !== null) this.#fresh ??= this.#fields(pixels, 0, 0)
    const [fresh, lasting] = [this.#fresh, this.#lasting]
    return {
      fresh: (k) => (fresh ? fresh[k]!.at(target) : this.#noise.field(pixels, target, k)),
      lasting: (k) => lasting[k]!.at(target),
    }
  }

  #fields(pixels: number, from: number, carried: number): LastingField[] {
    const shares = this.pace === null ? carried : carriedAt(this.#targets, this.pace, carried)
    return [0, 1, 2].map((k) => new LastingField(pixels, from + k, this.#targets, shares, this.#noise))
  }
}
