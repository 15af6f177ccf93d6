// A ranking while frames are still being read: what can be said of those that were, and which of the others to read next.
import { subsample } from '../match/subsample.js'
import { byFrame, type FrameKey, keyOf } from '../shot/frame-key.js'
import type { Shot } from '../shot/open-shot.js'
import type { TrackedFrame } from '../track/frame-tracker.js'
import type { Followed, Plan, TrackedShot } from '../track/plan.js'
import type { Arrival } from '../track/read-frames.js'
import { besideTargets, firstTargets, SpreadOrder } from '../track/read-order.js'
import { type Ranking, type Tracked, tracked } from './events.js'
import type { Candidate } from './result.js'

/** Shares of the frames after which there is a ranking. */
const AT_SHARES = [0.1, 0.25, 0.5]
/** Target frames that are looked at: a donor that fails on one of so many is out. */
const TARGETS = 4
/** With fewer frames beside the target's than this nothing is ranked. */
const MIN_OTHERS = 8
/** Frames beside the target's that are looked at where nothing else is asked for: so many, or this share of all. */
const OTHERS = 20
const OTHERS_SHARE = 0.05
/** Their pictures are copied, since ranking writes over them: bytes at most. */
const MAX_COPIED = 256 * 2 ** 20
/** Candidates whose neighbourhood is read next, how far round each donor, and the most frames of it, of all. */
const PROMISING = 3
const NEAR_FRAMES = 12
const NEAR_SHARE = 0.05
const MIN_NEAR = 12

/** Ranks frames that it may write over, in order. */
export type RankSoFar = (
  frames: readonly TrackedFrame[],
  followed: Followed,
) => Promise<Omit<Ranking, 'kind' | 'read' | 'total'>>

export interface OnTheWayOptions {
  /** Most frames that are looked at beside the target's. Default: 20, or a twentieth of all. */
  readonly others?: number
  /**
   * A target frame on which light is to land: it is looked at whichever others are, and what was shot next to the target
   * tells no more than the rest. Default: what the target's own region shows is asked for.
   */
  readonly landing?: number
}

/** One search's reading, ranked on the way. */
export class OnTheWay {
  /** What the frames are to be read in. */
  readonly order: SpreadOrder
  readonly #targets: ReadonlySet<string>
  readonly #isTarget: ReadonlySet<string>
  readonly #frames: TrackedFrame[] = []
  /** Whose neighbours count for more than the rest; null: nobody's. */
  readonly #range: readonly number[] | null
  readonly #others: number
  /** Frames that are promising, by what was ranked last, the most so first. */
  #promising: readonly string[] = []
  /** Frames that were read for lying round promising ones. */
  readonly #closedIn = new Set<string>()
  #ranked = 0

  constructor(
    readonly plan: Pick<Plan, 'frames'>,
    { plates, frames }: Pick<Shot, 'plates' | 'frames'>,
    readonly rankSoFar: RankSoFar,
    { others = OTHERS, landing }: OnTheWayOptions = {},
  ) {
    const some = firstTargets(frames, TARGETS)
    const first = landing === undefined ? some : [{ plate: 0, frame: landing }, ...some]
    const beside = landing === undefined ? besideTargets(plates[0].frames, frames) : []
    this.order = new SpreadOrder(plates, plan.frames, first, beside)
    this.#range = landing === undefined ? frames : null
    this.#others = others
    this.#targets = new Set(first.map(keyOf))
    this.#isTarget = new Set(frames.map((frame) => keyOf({ plate: 0, frame })))
  }

  /** Hands on what is read, with rankings in between. @throws whatever `read` and `rankSoFar` throw */
  async *heard(
    read: AsyncGenerator<Arrival<TrackedFrame> & Followed, TrackedShot>,
  ): AsyncGenerator<Tracked | Ranking, TrackedShot> {
    let ended = false
    try {
      for (;;) {
        const next = await read.next()
        if (next.done) {
          ended = true
          return next.value
        }
        const one = next.value
        if (one.message === undefined) this.#frames.push(one.kept)
        yield tracked(one)
        const frames = this.#due(one) ? this.#looked(one.total) : null
        if (frames === null) continue
        while (this.#ranked < AT_SHARES.length && one.done >= AT_SHARES[this.#ranked] * one.total)
          this.#ranked++
        const found = await this.rankSoFar(frames, one)
        this.#closeIn(found.candidates, one.total)
        yield { kind: 'ranking', read: one.done, total: one.total, ...found }
      }
    } finally {
      if (!ended) await read.return(undefined as never)
    }
  }

  #due({ done, total }: Arrival<TrackedFrame>): boolean {
    return this.#ranked < AT_SHARES.length && done >= AT_SHARES[this.#ranked] * total && done < total
  }

  /** Copies of what is looked at, in order; null where there is too little. */
  #looked(total: number): TrackedFrame[] | null {
    const targets = this.#frames.filter((f) => this.#targets.has(keyOf(f)))
    const others = this.#frames.filter((f) => !this.#isTarget.has(keyOf(f))).sort(byFrame)
    if (targets.length === 0 || others.length < MIN_OTHERS) return null
    const { log, validity } = targets[0].seen
    const room = Math.floor(MAX_COPIED / (log.data.byteLength + validity.byteLength)) - targets.length
    const most = Math.max(MIN_OTHERS, Math.min(room, Math.max(this.#others, OTHERS_SHARE * total)))
    return [...targets, ...this.#someOf(others, Math.floor(most))].map(copyOf).sort(byFrame)
  }

  /**
   * A third of what is looked at lies next to the target, as that is what its region is known by; a third is promising;
   * the rest tells what the plate is like. So it is spread evenly, and nowhere else are neighbours taken but round the best
   * donor: frames of one moment are alike, and a crowd of them would be taken for the region's usual picture.
   */
  #someOf(others: readonly TrackedFrame[], most: number): TrackedFrame[] {
    const part = Math.floor(most / 3)
    const taken = new Map<string, TrackedFrame>()
    const take = (some: readonly TrackedFrame[], upTo: number) => {
      for (const f of some) if (taken.size < upTo) taken.set(keyOf(f), f)
    }
    if (this.#range !== null) take(nextTo(this.#range, others), part)
    const there = new Map(others.map((f) => [keyOf(f), f]))
    take(
      this.#promising.flatMap((name) => there.get(name) ?? []),
      2 * part,
    )
    const rest = others.filter((f) => !taken.has(keyOf(f)) && !this.#closedIn.has(keyOf(f)))
    return [...taken.values(), ...subsample(rest, most - taken.size)]
  }

  /** Reads next what lies round the best donors, the nearest first. */
  #closeIn(candidates: readonly Candidate[], total: number): void {
    const most = Math.max(MIN_NEAR, Math.floor(NEAR_SHARE * total))
    const there = new Map(this.plan.frames.map((key) => [keyOf(key), key]))
    for (const { frame, plate } of this.#frames) there.delete(keyOf({ plate, frame }))
    const sooner = new Map<string, FrameKey>()
    const able = donorsOf(candidates.filter((c) => c.verdict !== 'will not hold'))
    const donors = donorsOf(candidates.slice(0, PROMISING))
    for (let gap = 1; gap <= NEAR_FRAMES; gap++) {
      for (const { plate, frame: donor } of donors) {
        for (const frame of [donor - gap, donor + gap]) {
          const name = keyOf({ plate, frame })
          if (sooner.size < most && there.has(name)) sooner.set(name, { plate, frame })
        }
      }
    }
    const [best] = donors
    const next =
      best === undefined ? [] : [best.frame - 1, best.frame + 1].map((frame) => ({ ...best, frame }))
    this.#promising = [...able, ...next].map(keyOf)
    for (const name of sooner.keys()) this.#closedIn.add(name)
    this.order.hasten([...sooner.values()])
  }
}

/** Frames of the target's plate before and after its range in turn, the nearest first. */
function nextTo(range: readonly number[], others: readonly TrackedFrame[]): TrackedFrame[] {
  const own = others.filter((f) => f.plate === 0)
  const before = own.filter((f) => f.frame < range[0]).reverse()
  const after = own.filter((f) => f.frame > range[0])
  return own.flatMap((_, i) => [...before.slice(i, i + 1), ...after.slice(i, i + 1)])
}

/** Whoever lends to the candidates, of a moment where it peaks; the best candidate's first, each once. */
function donorsOf(candidates: readonly Candidate[]): FrameKey[] {
  const all = candidates.flatMap(({ frames, moment }) =>
    moment
      ? [{ plate: moment.donor, frame: moment.peak }]
      : frames.map(({ plate, donor }) => ({ plate, frame: donor })),
  )
  return [...new Map(all.map((key) => [keyOf(key), key])).values()]
}

function copyOf(frame: TrackedFrame): TrackedFrame {
  const { log, validity } = frame.seen
  return { ...frame, seen: { log: { ...log, data: log.data.slice() }, validity: validity.slice() } }
}
